"""How data and scripts stand in the page: gzipped and in base64, the same bytes each time."""

from __future__ import annotations

import base64
import gzip
import json
from typing import Any


def pack(data: dict[str, Any]) -> str:
    """Plain data as a pack."""
    return packed(json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode())


def packed(content: bytes) -> str:
    """Bytes as a pack."""
    return base64.b64encode(gzip.compress(content, 6, mtime=0)).decode("ascii")
