"""One strand seen by a time-domain trace from both ends, with its power-meter loss beside: an invented export.

The strand is two pieces of cable with a splice between them, in panels at both ends, behind a launch and a receive cord.
What a trace shows of a joint is its loss, plus from end A and minus from end B what the unlike backscatter of the two
pieces feigns: so the splice gains from one end, and only the mean of both directions is its loss (IEC 61280-4-2,
recalled). All numbers are chosen to look like installed single-mode cable (common practice, no source).
"""

from __future__ import annotations

from scene_layouts import text_table

FILE = "single_files/trace_events.csv"
CABLE = "SF-105"
LABEL = f"{CABLE}-01"
ABOUT = (
    "the loss by power meter, and under it the events of a time-domain trace of the same strand from both ends; the "
    "splice shows as a gain from one of them"
)
CORD_M = 150.0
PIECES_M = (820.0, 640.0)
DB_PER_KM, DB_PER_KM_LONG = 0.33, 0.20
METER_STEP_DB = 0.03
PANEL_DB, SPLICE_DB, FEIGNED_DB = (0.21, 0.26), 0.06, 0.11
PANEL_REFLECTANCE_DB = (-52.4, -49.8)


def loss_db(db_per_km: float = DB_PER_KM) -> float:
    """Loss of the strand with both its end connections, as a one-cord reference tells it [dB]."""
    return db_per_km * sum(PIECES_M) / 1000 + sum(PANEL_DB) + SPLICE_DB


def events(direction: str) -> list[tuple[float, str, float | None, float | None]]:
    """Distance from the instrument [m], kind, loss [dB] and reflectance [dB] of each event of one direction."""
    step = 1 if direction == "A-B" else -1
    near, far = PANEL_DB[::step]
    near_reflectance, far_reflectance = PANEL_REFLECTANCE_DB[::step]
    splice_m = CORD_M + PIECES_M[::step][0]
    end_m = CORD_M + sum(PIECES_M)
    return [
        (0.0, "start", None, -45.1),
        (CORD_M, "reflective", near, near_reflectance),
        (splice_m, "splice" if step == 1 else "gain", SPLICE_DB + step * FEIGNED_DB, None),
        (end_m, "reflective", far, far_reflectance),
        (end_m + CORD_M, "end", None, -14.6),
    ]


def trace_csv() -> bytes:
    """The export: power-meter loss first, then a table of events for each direction, with its facts in lines above."""
    facts = [LABEL, "OS2 outside plant", f"{sum(PIECES_M):.0f}", "2", "1", "one cord"]
    rows: list[list[str]] = [
        ["Strand label", "Fiber type", "Length (m)", "Mated pairs", "Splices", "Reference method", "Direction",
         "Loss 1310 nm (dB)", "Loss 1550 nm (dB)"],
    ]  # fmt: skip
    for step, direction in enumerate(("A-B", "B-A")):
        losses = (loss_db() + METER_STEP_DB * step, loss_db(DB_PER_KM_LONG) + METER_STEP_DB * step)
        rows.append([*facts, direction, *(f"{loss:.2f}" for loss in losses)])
    for step, direction in ((1, "A-B"), (-1, "B-A")):
        rows += [
            [], ["Strand label", LABEL], ["Wavelength", "1310 nm"], ["Direction", direction],
            ["Launch cord", f"{CORD_M:.0f} m"], ["Receive cord", f"{CORD_M:.0f} m"],
            ["End-to-end loss", f"{loss_db() + step * FEIGNED_DB:.2f} dB"],
            ["Event no", "Distance (m)", "Event type", "Loss (dB)", "Reflectance (dB)"],
        ]  # fmt: skip
        for number, (distance_m, kind, *values) in enumerate(events(direction), start=1):
            numbers = ["" if value is None else f"{value:.2f}" for value in values]
            rows.append([str(number), f"{distance_m:.1f}", kind, *numbers])
    return text_table(rows, ",", "utf-8")
