"""From an analysis to what people and programs read: plain page data first, then terminal, JSON, page."""
