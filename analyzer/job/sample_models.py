"""Tables of the job file on what was tested in part, or twice: samples, and the owner's own measurements."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from analyzer.job.keys import JobTable, key
from analyzer.job.kinds import Text

Share = Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)]
_SHARE = "a share above 0, at most 1, such as 0.1"
_PATTERNS = 'a list of texts; * stands for anything, ? for one character, such as ["TB-*"]'


class Sampling(JobTable):
    """Tests that the owner asked of a sample alone; nothing stated means every link."""

    share: Share | None = key(None, "share of the scheduled links that is to be tested", _SHARE)
    links: list[Text] = key(["*"], "links that this sample is drawn from; all others are tested", _PATTERNS)
    alien_crosstalk: Share | None = key(
        None, "share of the links of each grade with alien crosstalk limits on which it is to be measured", _SHARE
    )


class Audit(JobTable):
    """The owner's own measurements of links that the contractor measured: compared, never judged in their place."""

    files: list[Text] = key([], "exports that the owner measured", _PATTERNS.replace("TB-*", "audit/*"))
