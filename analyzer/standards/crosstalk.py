"""Crosstalk at the far end against what is left of the signal there: one formula for all who need it."""

from __future__ import annotations

import numpy as np


def far_end_ratio_db(fext_db: np.ndarray, loss_db: np.ndarray) -> np.ndarray:
    """ACR-F [dB]: far-end crosstalk less the insertion loss of the disturbed pair; shapes as they broadcast.

    The same of power sums: PSACR-F from the power sum of far-end crosstalk. Source: the definition in ISO/IEC 11801-1
    and TIA-568.2-D, from memory.
    """
    return np.asarray(fext_db - loss_db)
