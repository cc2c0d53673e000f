"""Tables of the job file that speak of twisted pair alone."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from analyzer.job.keys import JobTable, key
from analyzer.job.kinds import no_twins
from analyzer.schema import CATEGORIES

_YES_NO = "true or false"
_ON, _OFF = True, False


class Conditions(JobTable):
    """What is true of every twisted-pair link, where limits depend on it; None leaves it open."""

    consolidation_point: bool | None = key(None, "the links hold a consolidation point", _YES_NO)
    environment: Literal["E1", "E2", "E3"] | None = key(
        None, "electromagnetic class of the place (ISO/IEC)", '"E1", "E2" or "E3"'
    )

    @property
    def words(self) -> tuple[str, ...]:
        """The conditions as the values files write them."""
        said = []
        if self.consolidation_point is not None:
            said.append("with consolidation point" if self.consolidation_point else "without consolidation point")
        if self.environment is not None:
            said.append(f"environment {self.environment}")
        return tuple(said)


PAIRS = CATEGORIES["pair"][:4]
Pairs = Annotated[list[Literal["1-2", "3-6", "4-5", "7-8"]], Field(min_length=1), AfterValidator(no_twins)]
RemotePower = Literal["type 1", "type 2", "type 3", "type 4"]


class TwistedPair(JobTable):
    """What was ordered and is known of every twisted-pair link beside its grade."""

    pairs: Pairs = key(
        list(PAIRS), "pairs that were ordered; faults of others are told and decide nothing",
        f"a list, each one of {', '.join(PAIRS)}",
    )  # fmt: skip
    screened: bool | None = key(None, "the cabling is screened", _YES_NO)
    remote_power: RemotePower | None = key(
        None, "remote power that the links must carry", '"type 1", "type 2", "type 3" or "type 4" (IEEE 802.3)'
    )
    correct_to_20_c: bool = key(
        _OFF,
        "limits are moved to the temperature that the record states; without it temperature changes nothing",
        _YES_NO,
    )


class Exemptions(JobTable):
    """Rules of the standards that take a twisted-pair reading out of the verdict; each can be switched."""

    return_loss_at_low_insertion_loss: bool = key(
        _ON, "return loss is for information where insertion loss is small", _YES_NO
    )
    next_at_low_insertion_loss: bool = key(_ON, "NEXT is for information where insertion loss is small", _YES_NO)
    psnext_at_low_insertion_loss: bool = key(_ON, "PSNEXT is for information where insertion loss is small", _YES_NO)
    acrf_near_the_noise_floor: bool = key(_ON, "ACR-F is for information where FEXT loss is large", _YES_NO)
    psacrf_near_the_noise_floor: bool = key(
        _ON, "PSACR-F is for information where power sum FEXT loss is large", _YES_NO
    )
    alien_crosstalk_met_by_design: bool = key(
        _OFF, "alien crosstalk counts as met where coupling attenuation is beyond its limit", _YES_NO
    )

    def holds(self, setting: str) -> bool:
        """Whether the rule with this `setting` (as copper_exemptions.csv names it) is switched on."""
        return bool(getattr(self, setting_key(setting)))


def setting_key(setting: str) -> str:
    """The key under [exemptions] of a setting: "ACR-F near the noise floor" -> acrf_near_the_noise_floor."""
    return setting.casefold().replace("-", "").replace(" ", "_")
