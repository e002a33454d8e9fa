"""Types of the compiled part; `relamp` exports all of it."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from os import PathLike
from pathlib import Path
from typing import Any, ClassVar, Self, TypeAlias, final, overload

import numpy
import numpy.typing
import polars
from typing_extensions import CapsuleType

from relamp.typing import Column, Progress, TableLike

_Array: TypeAlias = numpy.typing.NDArray[numpy.float64]
_Counts: TypeAlias = numpy.typing.NDArray[numpy.uint64]
_Conversion: TypeAlias = float | Sequence[tuple[float, float]] | None
ENDINGS: tuple[str, ...]
__build__: str
__version__: str

@final
class AgeComparison:
    """Two planned ages beside each other over draws; made by `compare_ages`. Neither passes the limit."""

    @property
    def ages_hours(self) -> tuple[float, float]:
        """The two ages, hours."""
    @property
    def per_1000_hours(self) -> tuple[float, float]:
        """Cost of each per 1,000 h at the estimates."""
    @property
    def difference_per_1000_hours(self) -> tuple[float, float]:
        """Cost of the first less that of the second, per 1,000 h, over the draws: (low, high)."""
    @property
    def first_costs_less(self) -> float:
        """Share of the draws in which the first age costs less."""
    @property
    def second_costs_less(self) -> float:
        """Share of the draws in which the second age costs less."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class AgeInterval:
    """What the draws make of the planned age; made by `planned_age_interval`. No age in it passes the limit."""

    @property
    def level(self) -> float:
        """Level of every interval here."""
    @property
    def method(self) -> str:
        """How the worlds were drawn."""
    @property
    def draws(self) -> int:
        """Draws that gave an answer."""
    @property
    def failed(self) -> int:
        """Draws that gave none."""
    @property
    def age_hours(self) -> tuple[float, float]:
        """Best age under the limit, whole hours rounded down: (low, high)."""
    @property
    def cost_per_hour(self) -> tuple[float, float]:
        """Cost per hour at the advised age: (low, high)."""
    @property
    def share_at_limit(self) -> float:
        """Share of draws whose cost still falls at the limit; 0 where the records end before it."""
    @property
    def saving_per_hour(self) -> tuple[float, float] | None:
        """Cost per hour of today's rule minus that of the advised age: (low, high); None without a rule."""
    @property
    def beats_todays_rule(self) -> float | None:
        """Share of draws in which the advised age costs less than today's rule."""
    @property
    def share_at_records_end(self) -> float:
        """Share of draws whose cost still falls where the records end, short of the limit; 0 where they reach the
        limit.
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class BlockCosts:
    """Long-run cost per lamp hour by the interval at which all lamps are changed together; made by `block_costs`."""

    def __len__(self) -> int: ...
    @property
    def every_hours(self) -> _Array:
        """The intervals, burning hours of a screen, (n,)."""
    @property
    def cost_per_hour(self) -> _Array:
        """Cost per lamp hour at each interval, (n,)."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class BlockInterval:
    """How often to change all lamps together; made by `block_interval`. No lamp in it passes the limit, nor the records
    unless a reason lets it.
    """

    @property
    def verdict(self) -> str:
        """Whether such changes pay: "blocks_pay" or "no_block_pays"."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def every_hours(self) -> float | None:
        """The advice: burning hours from one change of all lamps to the next, whole hours; None where no block pays."""
    @property
    def cost_per_hour(self) -> float | None:
        """Long-run cost per lamp hour at that interval; None where no block pays."""
    @property
    def optimum_hours(self) -> float | None:
        """Interval of least cost, before rounding, hours; None where the cost only falls with the interval."""
    @property
    def optimum_cost_per_hour(self) -> float:
        """Least cost per lamp hour of any interval."""
    @property
    def without_blocks_cost_per_hour(self) -> float:
        """Cost per lamp hour of changing every lamp alone, at failure or at the ceiling."""
    @property
    def minima(self) -> tuple[tuple[float, float], ...]:
        """Intervals at which the cost stops falling, as (hours, cost per lamp hour)."""
    @property
    def ceiling_hours(self) -> float:
        """The age at which a lamp is changed alone: the limit, or the oldest lamp at risk if earlier, hours."""
    @property
    def past_records(self) -> bool:
        """Whether lamps are let burn past the oldest lamp at risk, where the model is an opinion."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Bootstrap:
    """Refits with random weights; made by `bootstrap`. Its table holds the parameters of each replicate."""

    def __len__(self) -> int: ...
    @property
    def fit(self) -> Fit:
        """The fit at the counts."""
    @property
    def coordinates(self) -> _Array:
        """Coordinates of the replicates that settled, (replicates, width)."""
    @property
    def unsettled(self) -> tuple[int, ...]:
        """Replicates that did not settle, the first being 0."""
    def interval(
        self,
        *,
        parameter: str | None = None,
        quantile: float | None = None,
        b_life: float | None = None,
        reliability: float | None = None,
        hazard: float | None = None,
        mean: bool = False,
        failure_within: tuple[float, float] | None = None,
        function: Callable[[Life], float] | None = None,
        scale: str = "plain",
        level: float = 0.95,
        sides: str = "both",
        bias_corrected: bool = False,
    ) -> Interval:
        """A percentile interval of one quantity.

        Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean`, `failure_within` and
        `function` says which.

        With `bias_corrected` the percentiles move by the share of replicates below the estimate (Efron 1981).
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CappedAge:
    """The planned age under caps on the risk of one ending; made by `capped_age`. No age in it passes the limit.

    Its table holds one row for each reading of the records: as they stand, and with unknown endings counted.
    """

    @property
    def verdict(self) -> str:
        """What the caps do to the advice: "caps_met", "caps_bind" or "no_age_meets_caps"."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def age_hours(self) -> float | None:
        """The advice, whole hours: the age of least cost that meets the caps in every line; None where no age does."""
    @property
    def cost_per_hour(self) -> float | None:
        """Cost per hour at that age; None where no age meets the caps."""
    @property
    def uncapped(self) -> PlannedAge:
        """The planned age without caps."""
    @property
    def bands(self) -> tuple[tuple[float, float], ...]:
        """Stretches of whole hours that meet the caps in every line: (from, to)."""
    @property
    def before_age(self) -> float | None:
        """Worst upper limit, over the lines, of the share that ends so before the advised age; None without one."""
    @property
    def in_show(self) -> float | None:
        """Worst upper limit, over the lines, of the chance to end so in the next show at that age; None without one."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CauseFits:
    """Life by cause, and of all failures together; made by `fit_causes`. It holds numbers, never data."""

    @property
    def causes(self) -> tuple[tuple[list[tuple[str, float]], Fit], ...]:
        """The causes: pairs of (endings with their shares, fit)."""
    @property
    def unseen(self) -> tuple[tuple[str, float], ...]:
        """Endings never seen, with the 95 % bound on their even rate, per hour."""
    @property
    def overall(self) -> Fit | None:
        """One fit of all failures together; None if it is refused."""
    @property
    def check(self) -> FitCheck | None:
        """Whether the overall fit agrees with the records; None if there is no overall fit."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def world(self, costs: Costs, /) -> World:
        """The world at the estimates."""
    def draws(
        self,
        tally: Tally,
        costs: Costs,
        *,
        n: int = 400,
        seed: int,
        stratum: str = "",
        progress: Progress | None = None,
    ) -> Draws:
        """Worlds by the weighted bootstrap: in each, one set of random weights refits every cause together."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ChangeCounts:
    """Probability of each number of changes of one screen by a time; made by `change_counts`."""

    @property
    def planned_age_hours(self) -> float | None:
        """Age at which lamps are changed though they work, hours; None where they run to failure."""
    @property
    def first_age_hours(self) -> float:
        """Age of the first lamp at the start, hours."""
    @property
    def hours(self) -> float:
        """Burning hours from the start; changes at that very hour count."""
    @property
    def first(self) -> int:
        """Number that the first of `probabilities` belongs to; fewer changes have a probability below 1e-30."""
    @property
    def probabilities(self) -> _Array:
        """Probability of each number from `first` on, (n,)."""
    @property
    def mean(self) -> float:
        """Mean number of changes."""
    @property
    def variance(self) -> float:
        """Variance of the number of changes."""
    def probability(self, number: int) -> float:
        """Probability of exactly this number of changes."""
    def at_most(self, number: int) -> float:
        """Probability of at most this number of changes."""
    def more_than(self, number: int) -> float:
        """Probability of more than this number of changes; small ones keep their digits."""
    def quantile(self, p: float) -> int:
        """Least number of changes that is not passed with a probability or more."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ClaimList:
    """Lamps that ended, each with what is due and what to do; made by `claim_list`.

    Its table holds a lamp a row: those to file first, the greatest gain before the others.
    """

    @property
    def as_of(self) -> date:
        """The day of the list."""
    @property
    def sentence(self) -> str:
        """What the list amounts to, in words."""
    @property
    def totals(self) -> dict[str, Any]:
        """What claims brought and could have brought: numbers of lamps, and money in the currency of the prices."""
    def to_csv(self) -> str:
        """The list as text with commas between cells, safe to open in a spreadsheet: no text cell runs as a formula."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ClaimTerms:
    """How claims for the lamps of one class go; made by `claim_terms`."""

    @property
    def cover(self) -> Cover:
        """The warranty."""
    @property
    def needed(self) -> tuple[str, ...]:
        """What a claim needs."""
    @property
    def chance(self) -> float:
        """Chance that a complete claim is accepted."""
    @property
    def handling_cost(self) -> float:
        """Cost of one claim."""
    @property
    def days_to_file(self) -> int | None:
        """Days after the ending within which to file; None without a deadline."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ClaimsAhead:
    """Claims to expect from the lamps that burn today; made by `claims_ahead`.

    Its table holds the probability of each number of claims.
    """

    @property
    def lamps(self) -> int:
        """Lamps that burn today."""
    @property
    def under_cover(self) -> int:
        """Of these, lamps that a claim may still come from."""
    @property
    def not_known(self) -> int:
        """Of these, lamps of which it cannot be told: their age or the day that the warranty runs from is not known."""
    @property
    def days(self) -> float:
        """Days looked ahead."""
    @property
    def planned_age_hours(self) -> float:
        """Age at which lamps are changed, hours."""
    @property
    def claims(self) -> Count:
        """Number of claims of the lamps that burn today."""
    @property
    def mean_money(self) -> float:
        """Mean money that comes back for them, if every claim is filed and accepted."""
    @property
    def later_claims(self) -> float:
        """Mean number of claims beside these: of lamps that are fitted within the days."""
    @property
    def later_money(self) -> float:
        """Mean money that comes back for these."""
    @property
    def mean_money_90(self) -> tuple[float, float] | None:
        """Ends between which the mean money lies in nine of ten draws; None for one world."""
    @property
    def draws(self) -> int | None:
        """Draws mixed; None for one world."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ClassCurve:
    """What 0, 1, 2, ... lamps of one class lead to at their best places; made by `class_curve` or `one_place_curve`.

    Its table holds a row for each number of lamps: those at the depot and at the sites, cost and shortfall.
    """

    def __len__(self) -> int: ...
    @property
    def lamp(self) -> str:
        """The lamp class."""
    @property
    def measure(self) -> str:
        """What the shortfall counts: screens_waiting or dark_hours."""
    def at_sites(self, number: int) -> list[int]:
        """Lamps at each site where a number of lamps are held at their best places."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ClassResult:
    """What a study answers for one lamp class; stands in `StudyResults.classes`. `to_dict` holds every figure."""

    @property
    def name(self) -> str:
        """Name of the class."""
    @property
    def status(self) -> str:
        """How far the records carry the advice: "supported", "weak", "rate_only" (one to four failures), "mixed" or
        "not_supported".
        """
    @property
    def headline(self) -> str:
        """The advice in one or two sentences."""
    @property
    def advised_age_hours(self) -> float:
        """The age at which to change, whole hours, never above the limit."""
    @property
    def warnings(self) -> tuple[str, ...]:
        """What to bear in mind, in plain words."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CostBars:
    """How far each cost, and what else is set, moves the planned age; made by `cost_bars`. No age in it passes the
    limit.

    Its table holds two rows for each cost, and for the costs of every failure together, which is the cost ratio, the
    widest bar first; below them two rows for each of what else is set: "warranty price", "worth of a used lamp",
    "discount rate", "dark minutes of ..." and "hour limit".
    """

    def __len__(self) -> int: ...
    @property
    def planned(self) -> PlannedAge:
        """The advice at the costs as they are."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CostCurve:
    """Long-run cost per lamp hour by planned age, and what each cause brings; made by `cost_curve`. Under another
    objective, the same in its amounts.
    """

    def __len__(self) -> int: ...
    @property
    def age_hours(self) -> _Array:
        """The planned ages, hours, (n,)."""
    @property
    def cost_per_hour(self) -> _Array:
        """Cost per hour at each age, (n,)."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CostParts:
    """What a change costs, made of its parts, each known or known to a range; made by `cost_parts`."""

    def middle(self) -> Costs:
        """Costs with every part in the middle of its range."""
    def drawn(self, *, seed: int, replicate: int) -> Costs:
        """Costs drawn from the ranges, all values between two ends equally likely.

        Parameters
        ----------
        seed : int
            Seed of the draws, from 0.
        replicate : int
            From 0, the first.

        Returns
        -------
        Costs
            The same for the same seed and replicate.

        Raises
        ------
        InputError
            For what is no whole number.

        Examples
        --------
        >>> import relamp
        >>> dark = relamp.dark_minutes(45.0, burst=360.0)
        >>> parts = relamp.cost_parts(
        ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark
        ... )
        >>> costs = parts.drawn(seed=1, replicate=0)
        >>> 880.0 <= costs.planned <= 1080.0, costs == parts.drawn(seed=1, replicate=0)
        (True, True)
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Costs:
    """Cost of one planned change and of one change after each kind of failure, in one currency; made by `costs`.

    Examples
    --------
    >>> import relamp
    >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    >>> costs.failure("dim")
    1250.0
    """

    @property
    def planned(self) -> float:
        """Cost of a planned change, before what the used lamp is worth."""
    @property
    def by_ending(self) -> dict[str, float]:
        """Cost of a change after each kind of failure."""
    @property
    def warranty(self) -> Warranty | None:
        """Money back under a warranty; None without one."""
    def with_warranty(self, warranty: Warranty, /) -> Costs:
        """The same costs where the maker gives money back for early failures: the cost after a failure is that given,
        less the money back at that age.
        """
    @property
    def salvage(self) -> Salvage | None:
        """Worth of a used lamp; None where it has none."""
    @property
    def discount(self) -> Discount | None:
        """Discount rate of their own, in place of that of an objective that discounts; None where they have none."""
    def with_salvage(self, salvage: Salvage, /) -> Costs:
        """The same costs where a lamp that is changed on plan is still worth something: a planned change at an age
        costs that given, less the worth of the used lamp at that age.
        """
    @overload
    def planned_at(self, age: float) -> float:
        """Cost of a planned change at an age, less what the used lamp is worth there."""
    @overload
    def planned_at(self, age: Column) -> _Array:
        """Cost of a planned change at an age, less what the used lamp is worth there."""
    def failure(self, cause: str, /) -> float:
        """Cost of a change after a failure of this kind, before any money back."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Count:
    """The distribution of a whole number of lamps; stands in a `Forecast`, or is made by `poisson`.

    Examples
    --------
    >>> import relamp
    >>> count = relamp.Count.poisson(4.0)
    >>> count.quantile(0.85)
    6
    """

    @classmethod
    def poisson(cls, mean: float) -> Self:
        """A number of lamps that varies with this mean by chance alone."""
    @property
    def mean(self) -> float:
        """Mean number."""
    @property
    def sd(self) -> float:
        """Standard deviation."""
    @property
    def first(self) -> int:
        """Least number with an entry in `probabilities`."""
    @property
    def probabilities(self) -> _Array:
        """Probability of each number from `first` on, (n,)."""
    def quantile(self, p: float) -> int:
        """Least number that is not passed with a probability or more."""
    def at_most(self, number: int) -> float:
        """Probability of at most this number."""
    def more_than(self, number: int) -> float:
        """Probability of more than this number."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CovariateFit:
    """A fitted accelerated-life regression: coefficients, their errors, tests of terms; made by `fit_covariates`.

    It holds numbers, never data. Its table has one row a coefficient.
    """

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def coefficients(self) -> dict[str, float]:
        """Coefficients by name: logarithms of life ratios for one unit of the column, or hours for a family
        that reaches
        below age 0.
        """
    @property
    def life_ratios(self) -> dict[str, float]:
        """Life ratios exp(b) by name; empty for a family that is shifted by hours.

        Under an interaction a ratio is that of lamps at the baseline of what is joined, which `summary` names.
        """
    @property
    def standard_errors(self) -> dict[str, float]:
        """Standard errors of the coefficients by name."""
    @property
    def baseline(self) -> dict[str, float]:
        """Parameters of the baseline life: a lamp at the reference levels, at the references of stress laws,
        and at the mean
        of other numbers.
        """
    @property
    def log_likelihood(self) -> float:
        """Maximised log-likelihood, densities per hour."""
    @property
    def log_likelihood_without(self) -> float:
        """Maximised log-likelihood of the same family without covariates."""
    @property
    def aic(self) -> float:
        """Information criterion: smaller is better, on the same records only."""
    @property
    def converged(self) -> bool:
        """Whether the search reached the maximum."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader must know beside the numbers."""
    def tests(self) -> Table:
        """Likelihood-ratio tests, one row a term: the model with the term but no interaction that holds it,
        against that one
        without the term.

        Returns
        -------
        Table

        Examples
        --------
        >>> import relamp
        >>> site = ["a"] * 6 + ["b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> relamp.fit_covariates(tally, terms=["site"]).tests().columns
        ['term', 'statistic', 'degrees_of_freedom', 'p_value']
        """
    def wald(self, name: str, *, level: float = 0.95, sides: str = "both") -> Interval:
        """Interval of a coefficient from the curvature at the maximum.

        Parameters
        ----------
        name : str
            One of `coefficients`.
        level : float
            Confidence level, inside 0 to 1.
        sides : {"both", "lower", "upper"}
            Which ends; one alone has the whole level.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            For an unknown coefficient or side and a level out of range.

        Examples
        --------
        >>> import relamp
        >>> site = ["a"] * 6 + ["b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> fit = relamp.fit_covariates(relamp.lives(low, covariates={"site": site}), terms=["site"])
        >>> interval = fit.wald("site=b")
        >>> interval.low < fit.coefficients["site=b"] < interval.high
        True
        """
    def profile(
        self,
        tally: Tally,
        name: str,
        *,
        level: float = 0.95,
        sides: str = "both",
        endings: Sequence[str] | None = None,
    ) -> Interval:
        """Interval of a coefficient by profile likelihood.

        Parameters
        ----------
        tally : Tally
            The fitted records.
        name : str
            One of `coefficients`.
        level, sides
            As in `wald`.
        endings : list of str, optional
            The endings that were fitted.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            As in `wald`, and for a tally that is not the fitted one.

        Examples
        --------
        >>> import relamp
        >>> site = ["a"] * 6 + ["b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> fit = relamp.fit_covariates(tally, terms=["site"])
        >>> interval = fit.profile(tally, "site=b")
        >>> interval.low < fit.coefficients["site=b"] < interval.high
        True
        """
    def life(self, covariates: Mapping[str, str | float]) -> Life:
        """The life of a lamp with these covariates, which goes wherever a life goes.

        Parameters
        ----------
        covariates : dict
            A value for each covariate of the model.

        Returns
        -------
        Life

        Raises
        ------
        InputError
            For a covariate that is missing, unknown or of the other kind; for a family that no parameters
            stretch, such as
            "above_zero(normal)".
        RefusedError
            For a level that no fitted lamp had.

        Examples
        --------
        >>> import relamp
        >>> site = ["a"] * 6 + ["b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> fit = relamp.fit_covariates(relamp.lives(low, covariates={"site": site}), terms=["site"])
        >>> a, b = fit.life({"site": "a"}), fit.life({"site": "b"})
        >>> abs(b.b_life(10.0) / a.b_life(10.0) - fit.life_ratios["site=b"]) < 1e-9
        True
        """
    def quantile(
        self, covariates: Mapping[str, str | float], *, p: float, level: float = 0.95, sides: str = "both"
    ) -> Interval:
        """Interval of the age by which a share of lamps with these covariates has failed.

        Parameters
        ----------
        covariates : dict
            A value for each covariate of the model.
        p : float
            The share, above 0 and below 1.
        level, sides
            As in `wald`.

        Returns
        -------
        Interval
            Hours; notes say where a covariate lies outside the range of the lamps, and where the age or the upper end
            lies past the oldest lamp at risk.

        Raises
        ------
        InputError, RefusedError
            As in `life`, and for a level or side out of range.
        DomainError
            For a share out of range.

        Examples
        --------
        >>> import relamp
        >>> site = ["a"] * 6 + ["b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> fit = relamp.fit_covariates(relamp.lives(low, covariates={"site": site}), terms=["site"])
        >>> interval = fit.quantile({"site": "b"}, p=0.1)
        >>> interval.low < fit.life({"site": "b"}).b_life(10.0) < interval.high
        True
        """
    def residuals(self, tally: Tally, *, endings: Sequence[str] | None = None) -> HazardResiduals:
        """The cumulative hazard that each lamp went through under the life of its own covariates, beside that
        of the records.

        Parameters
        ----------
        tally : Tally
            The fitted records, or other ones with the same covariates.
        endings : list of str, optional
            The ones that count as failure; all failures without it.

        Returns
        -------
        HazardResiduals

        Raises
        ------
        RefusedError
            For records that show failures only, and levels that no fitted lamp had.

        Examples
        --------
        >>> import relamp
        >>> site = ["a"] * 6 + ["b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> fit = relamp.fit_covariates(tally, terms=["site"])
        >>> round(fit.residuals(tally).expected_failures, 6)
        12.0
        """
    def standardised(self, tally: Tally) -> Tally:
        """Standardised residuals in hours: the ages at which a baseline lamp stands where each lamp stands.

        Parameters
        ----------
        tally : Tally
            The fitted records, or other ones with the same covariates.

        Returns
        -------
        Tally
            Without covariates; its curve beside the baseline life shows where the family fails.

        Raises
        ------
        RefusedError
            For a family that is shifted by hours, and levels that no fitted lamp had.

        Examples
        --------
        >>> import relamp
        >>> site = ["a"] * 6 + ["b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> fit = relamp.fit_covariates(tally, terms=["site"])
        >>> base = relamp.fit(fit.standardised(tally))
        >>> abs(base.parameters["shape"] - fit.baseline["shape"]) < 1e-6
        True
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CovariateResiduals:
    """Residuals of proportional hazards; made by `HazardFit.residuals`. Its table has one row for each row of the
    tally with
    lamps: stratum by stratum, oldest first.
    """

    @property
    def martingale(self) -> _Array:
        """Failures less failures expected of one lamp of each row, (rows,)."""
    @property
    def deviance(self) -> _Array:
        """The same drawn towards a bell shape, (rows,)."""
    def failures(self) -> Table:
        """Residuals of the failures: columns less their mean over the lamps at risk, plain and scaled to read
        the coefficient
        at the age.

        Returns
        -------
        Table
            One row for each row of failures: stratum by stratum, youngest first.

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> residuals = relamp.proportional_hazards(tally, terms=["site"]).residuals(tally)
        >>> residuals.failures().columns
        ['age', 'stratum', 'count', 'plain site=b', 'scaled site=b']
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Cover:
    """A warranty with every limit: hours, calendar and strikes; made by `cover`."""

    @property
    def warranty(self) -> Warranty:
        """Money back by age."""
    @property
    def months(self) -> int | None:
        """Months after which nothing comes back; None without a limit by the calendar."""
    @property
    def months_from(self) -> str | None:
        """The day from which the months run: "fitting" or "delivery"; None without them."""
    @property
    def most_strikes(self) -> int | None:
        """Most strikes that are covered; None without a limit by strikes."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class CurrentHistoryFit:
    """A life under recorded currents; made by `fit_current_history`."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def power(self) -> float:
        """n: life at a constant current is in proportion to current^-n."""
    @property
    def standard_error(self) -> float:
        """Standard error of n."""
    @property
    def currents(self) -> tuple[float, float, float]:
        """Mean, lowest and highest current."""
    @property
    def parameters(self) -> dict[str, float]:
        """Parameters of the life at the mean current, held all along."""
    @property
    def log_likelihood(self) -> float:
        """Maximised log-likelihood, densities per hour."""
    @property
    def p_value(self) -> float:
        """Chance of so large a rise of the likelihood if the current did not matter."""
    @property
    def converged(self) -> bool:
        """Whether the search reached the maximum."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of a stable slug and a sentence."""
    def life(self, current: float) -> Life:
        """The life of a lamp that burns at one current all along.

        Parameters
        ----------
        current : float
            Above 0, in the unit of the pieces. One outside those recorded gives a `WeakDataWarning`.

        Returns
        -------
        Life

        Raises
        ------
        InputError
            For what is not a number.
        DomainError
            For a current that is not above 0.

        Examples
        --------
        >>> import relamp
        >>> current = [75.0, 90.0] * 12
        >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        >>> life = [f"lamp {i}" for i in range(24)]
        >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        ...           "current": [70.0] * 24 + current}
        >>> fit = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces)
        >>> ratio = fit.life(70.0).b_life(50.0) / fit.life(90.0).b_life(50.0)
        >>> abs(ratio - (90.0 / 70.0) ** fit.power) < 1e-9
        True
        """
    def reliability(self, programme: Sequence[tuple[float, float]]) -> float:
        """Probability to pass the end of a programme of hours at currents, from new.

        Parameters
        ----------
        programme : list of (float, float)
            Hours, and the current they burn at.

        Returns
        -------
        float

        Raises
        ------
        InputError
            For what are no pairs of numbers.
        DomainError
            For hours below 0 and currents that are not above 0.

        Examples
        --------
        >>> import relamp
        >>> current = [75.0, 90.0] * 12
        >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        >>> life = [f"lamp {i}" for i in range(24)]
        >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        ...           "current": [70.0] * 24 + current}
        >>> fit = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces)
        >>> fit.reliability([(500.0, 70.0), (300.0, 75.0)]) > fit.reliability([(500.0, 70.0), (300.0, 90.0)])
        True
        """
    def wald(self, *, level: float = 0.95, sides: str = "both") -> Interval:
        """Interval of n from the curvature at the maximum.

        Parameters
        ----------
        level : float
            Inside (0, 1).
        sides : {"both", "lower", "upper"}
            Which ends.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            For a level or side out of range.

        Examples
        --------
        >>> import relamp
        >>> current = [75.0, 90.0] * 12
        >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        >>> life = [f"lamp {i}" for i in range(24)]
        >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        ...           "current": [70.0] * 24 + current}
        >>> interval = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces).wald()
        >>> interval.low < 2.0 < interval.high
        True
        """
    def profile(
        self,
        lives: TableLike,
        pieces: TableLike,
        *,
        level: float = 0.95,
        sides: str = "both",
        single: str | None = None,
        endings: Sequence[str] | None = None,
    ) -> Interval:
        """Interval of n by profile likelihood. An end that the records do not close stays open.

        Parameters
        ----------
        lives, pieces : tables
            The ones that were fitted.
        level : float
            Inside (0, 1).
        sides : {"both", "lower", "upper"}
            Which ends.
        single : {"constant_over_life"}, optional
            As for the fit.
        endings : list of str, optional
            As for the fit.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            For other records than the fitted ones, and a level or side out of range.

        Examples
        --------
        >>> import relamp
        >>> current = [75.0, 90.0] * 12
        >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        >>> life = [f"lamp {i}" for i in range(24)]
        >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        ...           "current": [70.0] * 24 + current}
        >>> lives = {"life": life, "low": low, "high": low}
        >>> interval = relamp.fit_current_history(lives, pieces).profile(lives, pieces)
        >>> interval.low < 2.0 < interval.high
        True
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Curve:
    """Reliability and cumulative hazard as step functions of age; made by `product_limit`.

    Examples
    --------
    >>> import relamp
    >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0], [100.0, None], count=[1, 9]))
    >>> curve.reliability_at(150.0)
    0.9
    >>> curve.median is None
    True
    """

    @property
    def ages(self) -> _Array:
        """Ages at which lamps failed, ascending, hours, (steps,)."""
    @property
    def at_risk(self) -> _Counts:
        """Lamps at risk at each step, (steps,)."""
    @property
    def failures(self) -> _Counts:
        """Failures at each step, (steps,)."""
    @property
    def reliability(self) -> _Array:
        """Probability to pass each age, (steps,)."""
    @property
    def cumulative_hazard(self) -> _Array:
        """Cumulative hazard at each step, (steps,)."""
    @property
    def standard_error(self) -> _Array:
        """Standard error of the reliability at each step, (steps,); NaN where the reliability is 0."""
    @property
    def band(self) -> _Array:
        """Lower and upper end of the band at each step, (steps, 2); NaN where the reliability is 0 or 1."""
    def simultaneous_band(self) -> _Array:
        """Lower and upper end of Nair's equal-precision band at each step.

        It holds along the whole curve at once with the level of the curve, on the scale of asin(sqrt R).
        """
    @property
    def cumulative_hazard_standard_error(self) -> _Array:
        """Standard error of the cumulative hazard at each step, (steps,): the root of the sum of d / n^2 (Aalen, 1978).

        NaN for a curve saved before curves held it.
        """
    @property
    def cumulative_hazard_band(self) -> _Array:
        """Lower and upper end of the band of the cumulative hazard at each step, (steps, 2), on `hazard_scale`; an
        upper end is infinite where the records do not bound the hazard."""
    def simultaneous_cumulative_hazard_band(self) -> _Array:
        """Lower and upper end of the equal-precision band of the cumulative hazard at each step.

        It holds along the whole curve at once with the level of the curve, on the scale of asin(sqrt(exp(-H))), by the
        factor of `simultaneous_band` (Bie, Borgan and Liestol, 1987).
        """
    @property
    def level(self) -> float:
        """Level of the bands."""
    @property
    def band_scale(self) -> str:
        """The scale on which the band is symmetric, see `product_limit`."""
    @property
    def hazard_scale(self) -> str:
        """The scale on which the band of the cumulative hazard is symmetric, see `product_limit`."""
    @property
    def conditional_from(self) -> float:
        """The curve holds for lamps that reached this age, hours; 0 for a curve from new."""
    @property
    def last_age(self) -> float:
        """Largest age at which a lamp was under observation, hours; past it nothing is known."""
    @property
    def reading(self) -> str | None:
        """How failures known to an interval were read; None where there were none."""
    @property
    def interval_failures(self) -> int:
        """Failures known only to an interval."""
    @property
    def lamps(self) -> int:
        """Lamps behind the curve."""
    @property
    def median(self) -> float | None:
        """Age by which half the lamps have failed, hours; None where it is not reached."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What to know when reading the curve: pairs of rule and sentence."""
    @overload
    def reliability_at(self, age: float) -> float | None:
        """Probability to pass an age, or each of many."""
    @overload
    def reliability_at(self, age: Column) -> _Array: ...
    @overload
    def cumulative_hazard_at(self, age: float) -> float | None:
        """Cumulative hazard at an age, or at each of many."""
    @overload
    def cumulative_hazard_at(self, age: Column) -> _Array: ...
    @overload
    def cumulative_hazard_standard_error_at(self, age: float) -> float | None:
        """Standard error of the cumulative hazard at an age, or at each of many."""
    @overload
    def cumulative_hazard_standard_error_at(self, age: Column) -> _Array: ...
    @overload
    def cumulative_hazard_band_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper end of the band of the cumulative hazard at an age, or at each of many."""
    @overload
    def cumulative_hazard_band_at(self, age: Column) -> _Array: ...
    @overload
    def standard_error_at(self, age: float) -> float | None:
        """Standard error of the reliability at an age, or at each of many."""
    @overload
    def standard_error_at(self, age: Column) -> _Array: ...
    @overload
    def at_risk_at(self, age: float) -> float | None:
        """Lamps at risk at an age, or at each of many: those that came under observation before it and had not left."""
    @overload
    def at_risk_at(self, age: Column) -> _Array: ...
    @overload
    def band_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper end of the band at an age, or at each of many."""
    @overload
    def band_at(self, age: Column) -> _Array: ...
    @overload
    def quantile(self, p: float) -> float | None:
        """Smallest age by which a share has failed."""
    @overload
    def quantile(self, p: Column) -> _Array: ...
    @overload
    def restricted_mean(self, to: float) -> float:
        """Mean hours worked from `conditional_from` to an age, or to each of many."""
    @overload
    def restricted_mean(self, to: Column) -> _Array: ...
    @overload
    def quantile_interval(self, p: float) -> tuple[float | None, float | None]:
        """The ages that the records do not speak against as the age by which a share has failed."""
    @overload
    def quantile_interval(self, p: Column) -> _Array: ...
    @overload
    def restricted_mean_interval(self, to: float) -> MeanHours:
        """Mean hours worked from `conditional_from` to an age, or to each of many, with variance and interval."""
    @overload
    def restricted_mean_interval(self, to: Column) -> list[MeanHours]: ...
    @overload
    def mean_residual_life(self, age: float) -> MeanHours:
        """Mean hours left for lamps that reached an age, or each of many, counted up to the last age seen; the sentence
        says so."""
    @overload
    def mean_residual_life(self, age: Column) -> list[MeanHours]: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class DarkMinutes:
    """Minutes that a screen is dark for a planned change and for a change after each kind of failure; made by
    `dark_minutes`.
    """

    @property
    def planned(self) -> float:
        """Dark minutes of a planned change."""
    @property
    def by_ending(self) -> dict[str, float]:
        """Dark minutes of a change after each kind of failure."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence, such as for a change said to take
        less than 10 min to cool down and 10 min to warm up (common practice, no source).
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class DatedStock:
    """Planned changes with their orders, and the safety stock for what has no date; made by `dated_stock`."""

    @property
    def sentence(self) -> str:
        """The result in plain words."""
    @property
    def dated_in_lead_time(self) -> int:
        """Lamps whose date lies within the lead time: each must be on hand or on its way already."""
    @property
    def safety_stock(self) -> int:
        """Lamps to hold beside the dated ones: the least that meet the target on each day looked at."""
    @property
    def safety_for_failures(self) -> int:
        """The part for failures: what would do if every date were certain."""
    @property
    def safety_for_dates(self) -> int:
        """The rest, for the spread of the dates."""
    @property
    def level(self) -> int:
        """Dated lamps of the lead time plus safety stock: on hand and on order together."""
    @property
    def level_all_random(self) -> int:
        """What a Poisson number of the same mean would hold: all demand taken as random."""
    @property
    def held_for_nothing(self) -> int:
        """Lamps that taking all demand as random would have held beyond the level; below 0 where too few."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What stands beside the numbers and could mislead without."""

    @property
    def draws(self) -> int | None:
        """Draws mixed; None for one world."""

    def order(self, *, on_hand: int, on_order: int = 0) -> int:
        """Lamps to order now, so that lamps on hand and on order reach the level.

        Parameters
        ----------
        on_hand, on_order : int
            Lamps on the shelf, and ordered to arrive within the lead time; at least 0 each.

        Returns
        -------
        int
            Lamps.

        Raises
        ------
        InputError
            For what is not a whole number of at least 0.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> found = relamp.dated_stock(
        ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0,
        ...     limit=limit, lead_time_days=30.0, days_ahead=60.0, service_target=0.95,
        ... )
        >>> found.level, found.order(on_hand=2, on_order=1), found.too_late(on_hand=2, on_order=1)
        (5, 2, 1)
        """

    def too_late(self, *, on_hand: int, on_order: int = 0) -> int:
        """Dated lamps of the lead time without a lamp on hand or on order: too late for an order of today.

        Parameters
        ----------
        on_hand, on_order : int
            Lamps on the shelf, and ordered to arrive within the lead time; at least 0 each.

        Returns
        -------
        int
            Lamps.

        Raises
        ------
        InputError
            For what is not a whole number of at least 0.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> found = relamp.dated_stock(
        ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0,
        ...     limit=limit, lead_time_days=30.0, days_ahead=60.0, service_target=0.95,
        ... )
        >>> found.too_late(on_hand=2), found.too_late(on_hand=4)
        (2, 0)
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class DependentCurve:
    """Reliability by age if no lamp were taken out early, under a stated dependence; made by `dependent_curve`."""

    @property
    def tau(self) -> float:
        """Kendall's tau between the age at failure and the age at suspect removal."""
    @property
    def suspects(self) -> tuple[str, ...]:
        """The endings named as suspect."""
    @property
    def suspect_lamps(self) -> int:
        """Lamps that ended so."""
    @property
    def sentence(self) -> str:
        """What the curve stands for, in one sentence."""
    @overload
    def reliability_at(self, age: float) -> float | None:
        """Probability to pass an age, or each of many.

        Parameters
        ----------
        age : float or array-like
            Hours.

        Returns
        -------
        float, None or numpy.ndarray
            None, or NaN in an array, past the last age at which a lamp was under observation.

        Raises
        ------
        InputError
            For what is not a number.

        Examples
        --------
        >>> import relamp
        >>> why = ["dim", "burst", "running"]
        >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
        >>> round(relamp.dependent_curve(tally, suspects=["dim"], tau=0.0).reliability_at(250.0), 6)
        0.8
        """
    @overload
    def reliability_at(self, age: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class DialAnswer:
    """One figure at each dependence of a dial, and the interval that a range of dependence implies; made by the methods
    of `RemovalDial`.

    Examples
    --------
    >>> import relamp
    >>> low = [200.0 + 60.0 * i for i in range(40)]
    >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
    >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
    >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5], replicates=0)
    >>> dial.reliability(1000.0, from_tau=0.0, to_tau=0.5).table().columns
    ['tau', 'estimate', 'low', 'high']
    """

    @property
    def quantity(self) -> str:
        """What was asked, in words."""
    @property
    def in_hours(self) -> bool:
        """Whether the figure is an age in hours; else it is a share of lamps."""
    @property
    def taus(self) -> tuple[float, ...]:
        """Dependences, Kendall's tau, rising from 0."""
    @property
    def estimate(self) -> tuple[float, ...]:
        """The figure at each."""
    @property
    def range(self) -> tuple[float, float]:
        """Smallest and largest dependence held possible."""
    @property
    def least(self) -> float:
        """Least figure over the range."""
    @property
    def most(self) -> float:
        """Largest figure over the range."""
    @property
    def low(self) -> float | None:
        """Lower end over the range, chance included; None without refits."""
    @property
    def high(self) -> float | None:
        """Upper end over the range, chance included; None without refits."""
    @property
    def level(self) -> float:
        """Level of the intervals."""
    @property
    def verdicts(self) -> tuple[str, ...]:
        """Why the planned age at each dependence stands where it does, in words as `PlannedAge.verdict` has them; empty
        for other figures.
        """
    @property
    def informative(self) -> bool:
        """Whether the interval over the range, with chance where there are refits, is no wider than asked. Bounds of
        removals are judged without chance. Never where planned ages of the range stand at the limit or at the oldest
        lamp at risk because no earlier change pays.
        """
    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of a stable slug and a sentence. One says where a figure
        lies past the oldest lamp at risk, where it is the family's opinion.
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class DialTurn:
    """The first dependence at which the planned age leaves the ages near the best of the ordinary fit; made by
    `RemovalDial.turn`.
    """

    @property
    def tau(self) -> float | None:
        """The dependence, Kendall's tau; None where the advice stays up to the largest one fitted, 0 where the one life
        for all failures leaves the ages near the best already.
        """
    @property
    def most_tau(self) -> float:
        """Largest dependence that was fitted."""
    @property
    def age_hours(self) -> float:
        """The planned age there, or at the largest dependence, hours."""
    @property
    def independent_hours(self) -> float:
        """The planned age of the dial without dependence, one life for all failures, hours."""
    @property
    def ordinary_hours(self) -> float:
        """The planned age of the ordinary fit, hours."""
    @property
    def sentence(self) -> str:
        """The same in words."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Discount:
    """How much less money is worth the later it comes; made by `discount`."""

    @property
    def rate_per_hour(self) -> float:
        """The continuous rate per burning hour."""
    @overload
    def worth(self, age: float) -> float:
        """What an amount of 1 is worth now if it comes after so many burning hours."""
    @overload
    def worth(self, age: Column) -> _Array:
        """What an amount of 1 is worth now if it comes after so many burning hours."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class DistanceTest:
    """Distances of a fitted life from the records' own curve, with their chances; made by `distance_test`."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def anderson_darling(self) -> float:
        """Anderson-Darling distance."""
    @property
    def kolmogorov(self) -> float:
        """Kolmogorov distance, times the square root of the number of lamps."""
    @property
    def p_anderson_darling(self) -> float:
        """Chance of an Anderson-Darling distance at least this large if the family fits."""
    @property
    def p_kolmogorov(self) -> float:
        """Chance of a Kolmogorov distance at least this large if the family fits."""
    @property
    def replicates(self) -> int:
        """Replicates behind the chances."""
    @property
    def unsettled(self) -> int:
        """Replicates left out."""
    @property
    def verdict(self) -> str:
        """The answer in plain words."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Draws:
    """Draws of possible worlds: the estimates, and a world for each replicate, all causes drawn together; made by
    `CauseFits.draws`.

    Its table holds the parameters of each cause in each draw.
    """

    def __len__(self) -> int: ...
    @property
    def method(self) -> str:
        """How the worlds are drawn."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside figures that rest on these draws: pairs of slug and sentence."""
    def best(self) -> World:
        """The world at the estimates."""
    def world(self, replicate: int) -> World:
        """The world of one draw."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class EmergencyPlan:
    """The base stock of least cost where missing lamps come by an emergency transfer; made by `best_emergency`."""

    @property
    def sentence(self) -> str:
        """The advice in plain words."""
    @property
    def base_stock(self) -> int:
        """Lamps on hand and on order, each ordered when used."""
    @property
    def emergency_share(self) -> float:
        """Share of the lamps needed that come by transfer: the chance that the shelf is empty."""
    @property
    def total(self) -> float:
        """Cost a year: holding, transfers and ordering; lamps bought cost the same at every stock and are left out."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class EndingBounds:
    """Bounds of the reliability whatever share of the suspect endings were failures; made by `ending_bounds`."""

    @property
    def suspects(self) -> tuple[str, ...]:
        """The endings named as suspect."""
    @property
    def suspect_lamps(self) -> int:
        """Lamps that ended so."""
    @property
    def if_none(self) -> Curve:
        """The curve if none of them was a failure: the upper bound."""
    @property
    def if_all(self) -> Curve:
        """The curve if each failed at the age of its ending: the lower bound."""
    @property
    def age_hours(self) -> float:
        """The age at which the bounds are judged, hours."""
    @property
    def low(self) -> float:
        """Lower bound of the reliability at the age."""
    @property
    def high(self) -> float:
        """Upper bound of the reliability at the age."""
    @property
    def informative(self) -> bool:
        """Whether the bounds at the age are no wider than asked, chance left out; figures of a dial are judged with
        it."""
    @property
    def sentence(self) -> str:
        """What the bounds at the age say, in one sentence."""
    @overload
    def bounds_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper bound for the lamps of the records at an age, or at each of many."""
    @overload
    def bounds_at(self, age: Column) -> _Array: ...
    @overload
    def outer_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper bound for lamps like these at an age, or at each of many, with what chance may add."""
    @overload
    def outer_at(self, age: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class EndingsByAge:
    """How 1,000 lamps fitted new end, by planned age; made by `endings_by_age`."""

    def __len__(self) -> int: ...
    @property
    def age_hours(self) -> _Array:
        """The planned ages, hours, (n,)."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ExpectedChanges:
    """Mean changes of one screen by given times; made by `expected_changes`."""

    @property
    def planned_age_hours(self) -> float | None:
        """Age at which lamps are changed though they work, hours; None where they run to failure."""
    @property
    def first_age_hours(self) -> float:
        """Age of the first lamp at the start, hours."""
    @property
    def hours(self) -> _Array:
        """Burning hours from the start, (n,)."""
    @property
    def planned(self) -> _Array:
        """Mean planned changes by each time, (n,); changes at that very hour count."""
    @property
    def failures(self) -> _Array:
        """Mean failure changes by each time, (n,)."""
    @property
    def changes(self) -> _Array:
        """Mean changes of both kinds by each time, (n,)."""
    @property
    def variance(self) -> _Array:
        """Variance of the number of changes of both kinds by each time, (n,)."""
    @property
    def way(self) -> tuple[str, ...]:
        """How each number was found, (n,): 'closed_form', 'solved', 'long_run', 'steps' or 'bounded'."""
    @property
    def mean_hours(self) -> float:
        """Mean hours from a change to the next; infinite where lamps may never need one."""
    @property
    def line(self) -> tuple[float, float] | None:
        """The straight line that the mean number comes near to, as (changes an hour, constant): (variance - mean^2) /
        (2 mean^2) is the constant with a new first lamp. None where the life has no finite mean or variance.
        """
    @property
    def relative_error(self) -> float:
        """What a mean number may be wrong by, relative to it."""
    @property
    def bounds(self) -> tuple[tuple[float, float] | None, ...]:
        """Bounds of the mean changes by each time, (n,): (low, high) where the hours lie beyond what can be solved and
        the long-run line stands for the number, else None.
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ExpectedEndings:
    """Failures expected at the lamps' ages and failures seen, month by month; made by `expected_endings`.

    Its table holds one row for each month of each name.
    """

    @property
    def by(self) -> tuple[str, ...]:
        """What lamps are watched by, in order."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What to know when reading it."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class FailuresAhead:
    """The number of failures among given lamps in the hours ahead; made by `failures_ahead`."""

    @property
    def lamps(self) -> int:
        """Lamps."""
    @property
    def failures(self) -> Count:
        """Failures over the draws: chance and what is not known of the life."""
    @property
    def at_estimate(self) -> Count:
        """Failures at the estimates alone, as if they were known: chance only."""
    @property
    def draws(self) -> int:
        """Draws that were mixed."""
    @property
    def failed(self) -> int:
        """Draws left out."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def interval(self, *, level: float = 0.9) -> tuple[int, int]:
        """Prediction interval: least and greatest number of failures, both included."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class FamilyVerdict:
    """What families that fit alike say at an age; made by `family_verdict`."""

    @property
    def age_hours(self) -> float:
        """The age, hours."""
    @property
    def within_hours(self) -> float | None:
        """End of the window, hours, where the records show failures only: shares are then of the failures by this age.

        None where they are of all lamps.
        """
    @property
    def alike(self) -> tuple[str, ...]:
        """Families that fit alike: AIC within 2 of the best, and no simpler one enough."""
    @property
    def disagreement(self) -> float:
        """Largest less smallest failure probability at the age among them."""
    @property
    def beyond_interval(self) -> bool:
        """Whether they disagree by more than the interval of the best is wide."""
    @property
    def verdict(self) -> str:
        """The answer in plain words."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...

@final
class Fit:
    """A fitted life model: estimates, covariance, likelihood, and why the search stopped; made by `fit`.

    It holds numbers, never data.
    """

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def parameters(self) -> dict[str, float | None]:
        """Estimates by name; None for one that the records do not settle: `bounds` has its ends and its profile."""
    def parameter(self, name: str, /) -> float | None:
        """One estimate by name."""
    def standard_error(self, name: str, /) -> float | None:
        """Standard error of a parameter by name, from the curvature; None for one on its boundary or not settled."""
    @property
    def covariance(self) -> _Array:
        """Covariance of the parameters on their own scale, (width, width)."""
    @property
    def coordinates(self) -> _Array:
        """Unconstrained coordinates at the maximum, (width,)."""
    @property
    def log_likelihood(self) -> float:
        """Maximised log-likelihood, densities per hour."""
    @property
    def aic(self) -> float:
        """Akaike's criterion; smaller is better, on the same data only."""
    @property
    def converged(self) -> bool:
        """Whether the search reached the maximum."""
    @property
    def stop(self) -> str:
        """Why the search stopped, one word."""
    @property
    def limit(self) -> str | None:
        """The parameter along which the likelihood rises for ever, or None for a fit at a highest point. Such a fit
        tells how failures lie within the window (`within_window`) and nothing else."""
    @property
    def iterations(self) -> int:
        """Iterations of the search."""
    @property
    def scaled_gradient(self) -> float:
        """Distance to the true maximum in standard errors."""
    @property
    def condition(self) -> float:
        """Condition of the information matrix with its diagonal scaled to 1: 1 is best."""
    @property
    def lamps(self) -> int:
        """Lamps that were watched for any time at all; `Tally.lamps` counts those never watched too."""
    @property
    def failures(self) -> int:
        """Lamps that failed; the sample size that counts."""
    @property
    def censored(self) -> int:
        """Lamps that did not fail."""
    @property
    def exposure_hours(self) -> float:
        """Hours under observation."""
    @property
    def oldest_at_risk_hours(self) -> float:
        """Oldest age at which a lamp was at risk, hours; past it the model is the family's opinion."""
    @property
    def identified(self) -> dict[str, str]:
        """Whether the records settle each parameter: "yes", "weakly" or "no" by name. Empty where it was not looked at:
        a fit of more than 10,000 distinct rows with weak curvature; `identify` looks then.
        """
    def bounds(self, name: str, /) -> tuple[float | None, float | None, list[tuple[float, float]]] | None:
        """Ends at 95 % and profile of a parameter, as they mark it settled or not: by curvature where that is strong,
        as those of `wald`, else by profile likelihood.

        Ends are None where the records do not bound it; the profile, for a parameter that is not settled, is pairs of a
        value and how far the best log-likelihood falls there. None for a parameter that was not looked at.
        """
    @property
    def peaks(self) -> tuple[tuple[dict[str, float], float, int], ...]:
        """Local maxima of the likelihood, highest first, the first being the one given: triples of parameters,
        log-likelihood and how many searches ended there. Empty but for the generalised gamma and families made of
        others.
        """
    def identify(self, tally: Tally, *, endings: Sequence[str] | None = None) -> Fit:
        """The same fit with every parameter marked from its profile likelihood, whatever the number of rows.

        A parameter is settled ("yes") if its 95 % profile interval is bounded on both sides and reaches about as far
        as the curvature says, within a factor of 3. It is "weakly" settled if the interval is open on one side or
        the two disagree, and not settled ("no") if it is open on both or the profile stays level over a stretch; a
        share also if it may be 0 or 1, and any parameter of records that show failures only also if open on one side.
        The share of a mixture is not settled either where one kind of lamps explains the records about as well.
        `tally` and `endings` are the ones that were fitted.

        Examples
        --------
        >>> import relamp
        >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        >>> relamp.fit(tally).identify(tally).identified
        {'shape': 'yes', 'scale': 'yes'}
        """
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def wald(
        self,
        *,
        parameter: str | None = None,
        quantile: float | None = None,
        b_life: float | None = None,
        reliability: float | None = None,
        hazard: float | None = None,
        mean: bool = False,
        failure_within: tuple[float, float] | None = None,
        function: Callable[[Life], float] | None = None,
        scale: str = "plain",
        level: float = 0.95,
        sides: str = "both",
    ) -> Interval:
        """An interval from the curvature at the maximum, of one quantity.

        Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean`, `failure_within` and
        `function` says which.
        """
    def profile(
        self,
        tally: Tally,
        *,
        endings: Sequence[str] | None = None,
        parameter: str | None = None,
        quantile: float | None = None,
        b_life: float | None = None,
        reliability: float | None = None,
        hazard: float | None = None,
        mean: bool = False,
        failure_within: tuple[float, float] | None = None,
        function: Callable[[Life], float] | None = None,
        scale: str = "plain",
        level: float = 0.95,
        sides: str = "both",
    ) -> Interval:
        """An interval by profile likelihood, of one quantity as in `wald`.

        An end the data do not close stays open, and notes say so; also where the quantity itself goes no further. A
        function must be smooth: it is called at many lives, and its slopes are taken numerically.
        """
    def profile_curve(
        self,
        tally: Tally,
        *,
        endings: Sequence[str] | None = None,
        parameter: str | None = None,
        quantile: float | None = None,
        b_life: float | None = None,
        reliability: float | None = None,
        level: float = 0.95,
        points: int = 81,
    ) -> ProfileCurve:
        """The profile likelihood of a parameter, an age or a reliability over a grid of its values."""
    def region(self, tally: Tally, *, endings: Sequence[str] | None = None, level: float = 0.95) -> LikelihoodRegion:
        """The joint confidence region of the parameters of a two-parameter family: all pairs whose likelihood comes
        close enough to the maximum, by the chi-square law with 2 degrees of freedom.
        """
    def check(self, tally: Tally, *, endings: Sequence[str] | None = None, seed: int = 0) -> FitCheck:
        """Compares failures seen with failures expected, over ranges of age and over clusters."""
    def corrected_shape(self, tally: Tally, *, endings: Sequence[str] | None = None) -> ShapeCorrection:
        """The shape of a Weibull fit with its bias taken out, for complete and failure-censored samples."""
    @property
    def life(self) -> Life:
        """The fitted life. Refused where `identified` says "no" of a parameter: no single life stands for the records
        then, and `life_at_maximum` gives one of those that explain them."""
    @property
    def life_at_maximum(self) -> Life:
        """The life where the likelihood is highest. Where `identified` says "no" of a parameter, other lives explain
        the records about as well."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class FitCheck:
    """Whether a fitted family agrees with the records it was fitted to; made by `Fit.check`."""

    @property
    def misfit(self) -> bool:
        """Whether the records speak against the family."""
    @property
    def p_value(self) -> float | None:
        """Chance of a pattern at least this uneven if the family fits; None where no check could be made."""
    @property
    def p_age(self) -> float | None:
        """The same over ranges of age alone."""
    @property
    def p_cluster(self) -> float | None:
        """The same over clusters alone."""
    @property
    def verdict(self) -> str:
        """The answer in plain words."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ChainForecast:
    """Lamps needed by a chain, by class, site, depot and calendar month, as whole distributions; made by
    `chain_forecast`.
    """

    def __len__(self) -> int:
        """Number of calendar months."""
    @property
    def lamp_classes(self) -> tuple[str, ...]:
        """Names of the lamp classes in order."""
    def count(
        self,
        lamp_class: str,
        *,
        depot: str | None = None,
        site: str | None = None,
        month: int | None = None,
        kind: str = "needed",
    ) -> Count:
        """Lamps of a class needed in the whole chain, at the sites of a depot, or at one site.

        Parameters
        ----------
        lamp_class : str
            The lamp class.
        depot, site : str, optional
            One of them, or none for the whole chain.
        month : int, optional
            From 1, the first, to the number of months; without it all months together.
        kind : str
            What is counted: 'needed', 'planned' or 'failures'.

        Returns
        -------
        Count

        Raises
        ------
        InputError
            For a class, place, month or kind that was not forecast.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> chain = relamp.chain_forecast(
        ...     {"X": (world, 2000.0, limit)}, lamp_class=["X", "X"], site=["north", "south"],
        ...     age_hours=[100.0, 1900.0], hours_per_week=70.0, as_of="2026-01-01", months=3,
        ... )
        >>> round(chain.count("X", site="south", month=1).mean, 2)
        1.0
        >>> round(chain.count("X").mean, 2)
        1.06
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PolicyWave:
    """The one-off wave of lamps of one class when the planned age changes; made by `policy_wave`."""

    @property
    def lamp_class(self) -> str:
        """The lamp class."""
    @property
    def old_age_hours(self) -> float:
        """Planned age before, hours."""
    @property
    def new_age_hours(self) -> float:
        """Planned age after, hours."""
    @property
    def due_at_once(self) -> int:
        """Lamps that become due at once; below 0, that are no longer due."""
    @property
    def passed(self) -> str | None:
        """Last day of the month in which the wave has passed, as text; None where the horizon ends before."""
    @property
    def echo(self) -> str | None:
        """First day of the month in which lamps changed together come due again, as text; None where none shows."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Forecast:
    """Lamps needed for one class, period by period, as whole distributions; made by `forecast`."""

    def __len__(self) -> int: ...
    @property
    def planned_age_hours(self) -> float:
        """Age at which lamps are changed, at most the limit."""
    @property
    def sockets(self) -> int:
        """Screens."""
    @property
    def due_now(self) -> int:
        """Of these, lamps at or past the planned age or of unknown age."""
    @property
    def period_days(self) -> float:
        """Length of a period, days."""
    @property
    def draws(self) -> int | None:
        """Draws mixed; None for one world."""
    def needed(self, period: int) -> Count:
        """Lamps needed in a period."""
    def needed_by_end(self, period: int) -> Count:
        """Lamps needed from today to the end of a period."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class GroupTest:
    """A test whether groups of lamps are alike; made by `rank_test` and `incidence_test`.

    Its table has one row for each group: lamps, failures observed, failures expected were all groups alike, and the
    weighted difference of the two.
    """

    @property
    def compared(self) -> str:
        """What is compared, and with which weights, in words."""
    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups, in the order given."""
    @property
    def statistic(self) -> float | None:
        """The statistic; None where the records compare nothing, which a note explains."""
    @property
    def degrees_of_freedom(self) -> int:
        """Degrees of freedom of its chi-square law; 0 where there is none."""
    @property
    def p_value(self) -> float | None:
        """Chance of a statistic at least this large among groups that are alike; None without a statistic."""
    @property
    def trend(self) -> float | None:
        """A trend in standard errors, above 0 where a higher score goes with more failures; None without scores."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What to know when reading the test: pairs of rule and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class HazardFit:
    """A fitted model of proportional hazards: coefficients, their errors, baselines; made by `proportional_hazards`.

    It holds numbers, never data. Its table has one row a coefficient.
    """

    @property
    def coefficients(self) -> dict[str, float]:
        """Coefficients by name: logarithms of hazard ratios for one unit of the column."""
    @property
    def hazard_ratios(self) -> dict[str, float]:
        """Hazard ratios exp(b) by name; under an interaction of lamps at the baseline of what is joined."""
    @property
    def standard_errors(self) -> dict[str, float]:
        """Standard errors of the coefficients by name: the robust ones where they were asked for, raised for few
        clusters.
        """
    @property
    def log_likelihood(self) -> float:
        """Maximised partial log-likelihood."""
    @property
    def log_likelihood_without(self) -> float:
        """Partial log-likelihood without covariates."""
    @property
    def converged(self) -> bool:
        """Whether the search reached the maximum."""
    @property
    def clusters(self) -> int:
        """Clusters behind the robust standard errors; a lamp without a cluster counts by itself."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def tests(self) -> Table:
        """Likelihood-ratio tests, one row a term, as in `CovariateFit.tests`.

        Returns
        -------
        Table

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        >>> fit.tests().columns
        ['term', 'statistic', 'degrees_of_freedom', 'p_value']
        """
    def baselines(self) -> Table:
        """The cumulative hazard of a baseline lamp, one row a failure age of each stratum.

        Returns
        -------
        Table

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        >>> len(fit.baselines())
        12
        """
    def wald(self, name: str, *, level: float = 0.95, sides: str = "both") -> Interval:
        """Interval of a coefficient from the curvature at the maximum, robust where that was asked for.

        Parameters
        ----------
        name : str
            One of `coefficients`.
        level : float
            Confidence level, inside 0 to 1.
        sides : {"both", "lower", "upper"}
            Which ends; one alone has the whole level.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            For an unknown coefficient or side and a level out of range.

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        >>> interval = fit.wald("site=b")
        >>> interval.low < fit.coefficients["site=b"] < interval.high
        True
        """
    def profile(
        self,
        tally: Tally,
        name: str,
        *,
        level: float = 0.95,
        sides: str = "both",
        endings: Sequence[str] | None = None,
    ) -> Interval:
        """Interval of a coefficient by profile of the partial likelihood, which does not know of clusters.

        Parameters
        ----------
        tally : Tally
            The fitted records.
        name : str
            One of `coefficients`.
        level, sides
            As in `wald`.
        endings : list of str, optional
            The endings that were fitted.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            As in `wald`, and for a tally that is not the fitted one.

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> fit = relamp.proportional_hazards(tally, terms=["site"])
        >>> interval = fit.profile(tally, "site=b")
        >>> interval.low < fit.coefficients["site=b"] < interval.high
        True
        """
    def reliability(
        self,
        covariates: Mapping[str, str | float],
        *,
        age: float,
        stratum: str = "",
        level: float = 0.95,
        sides: str = "both",
    ) -> Interval:
        """The probability that a lamp with these covariates passes an age, with its interval.

        Parameters
        ----------
        covariates : dict
            A value for each covariate of the model.
        age : float
            Hours, up to the oldest lamp at risk in the stratum.
        stratum : str
            One of the strata of `baselines`; empty where none are kept apart.
        level, sides
            As in `wald`.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            For a covariate that is missing, unknown or of the other kind.
        RefusedError
            For a level or stratum that no fitted lamp had, and an age at which no lamp was at risk.

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        >>> passed = fit.reliability({"site": "b"}, age=600.0)
        >>> 0.0 < passed.low < passed.estimate < passed.high < 1.0
        True
        """
    def residuals(self, tally: Tally, *, endings: Sequence[str] | None = None) -> CovariateResiduals:
        """Residuals: of each life its martingale, deviance and score residual, of each failure its plain and
        scaled one.

        Parameters
        ----------
        tally : Tally
            The fitted records.
        endings : list of str, optional
            The endings that were fitted.

        Returns
        -------
        CovariateResiduals

        Raises
        ------
        RefusedError
            For rows that the model cannot take, as in `proportional_hazards`.

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> residuals = relamp.proportional_hazards(tally, terms=["site"]).residuals(tally)
        >>> bool(abs(residuals.martingale.sum()) < 1e-9)
        True
        """
    def proportionality(
        self, tally: Tally, *, scale: str = "product_limit", endings: Sequence[str] | None = None
    ) -> Proportionality:
        """Tests whether hazards stay proportional: whether a coefficient changes with age.

        Parameters
        ----------
        tally : Tally
            The fitted records.
        scale : {"product_limit", "age", "rank"}
            What a coefficient might change with: 1 less the product-limit curve, age in hours, or rank of age.
        endings : list of str, optional
            The endings that were fitted.

        Returns
        -------
        Proportionality

        Raises
        ------
        InputError
            For an unknown scale.

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b"] * 6
        >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        >>> tally = relamp.lives(low, covariates={"site": site})
        >>> test = relamp.proportional_hazards(tally, terms=["site"]).proportionality(tally)
        >>> test.p_value > 0.05
        True
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class HazardResiduals:
    """The cumulative hazard of each lamp under a fit, and its curve beside that of the records; made by `residuals`."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def passed(self) -> _Array:
        """Cumulative hazard passed by the lamps of each row of the tally, (rows,)."""
    @property
    def failed(self) -> tuple[bool, ...]:
        """Whether the lamps of each row failed, (rows,)."""
    @property
    def ages(self) -> _Array:
        """Ages at failure, hours, (points,)."""
    @property
    def expected(self) -> _Array:
        """Cumulative hazard by the fit at each of them, (points,)."""
    @property
    def seen(self) -> _Array:
        """Cumulative hazard by the records alone at each of them, (points,)."""
    @property
    def interval(self) -> _Array:
        """Lower and upper end of the 95 % interval of `seen`, at each age alone, (points, 2)."""
    @property
    def failures(self) -> int:
        """Failures seen."""
    @property
    def expected_failures(self) -> float:
        """Failures expected from the hours watched: the sum of `passed` over the lamps."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class HorizonAge:
    """The planned age of least cost over a horizon; made by `horizon_age`. No age in it passes the limit, nor the
    records unless a reason lets it.
    """

    @property
    def verdict(self) -> str:
        """Why the age stands where it does: "best_below_limit", "at_limit", "records_end" or "no_planned_change"."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def age_hours(self) -> float:
        """The advice: whole hours, at most the ceiling; of the two next to the optimum the cheaper."""
    @property
    def cost(self) -> float:
        """Mean cost to the horizon at that age."""
    @property
    def optimum_hours(self) -> float:
        """Age of least cost, before rounding."""
    @property
    def optimum_cost(self) -> float:
        """Mean cost to the horizon there."""
    @property
    def jumps(self) -> tuple[tuple[float, float, float], ...]:
        """Ages next to the optimum at which the cost jumps, as (age in hours, cost just before it, cost at it)."""
    @property
    def ceiling_cost(self) -> float:
        """Mean cost to the horizon of changing at the ceiling."""
    @property
    def ceiling_hours(self) -> float:
        """The age that the search did not pass: the limit, or the oldest lamp at risk if earlier, hours."""
    @property
    def past_records(self) -> bool:
        """Whether the advised age lies past the oldest lamp at risk, where the model is an opinion."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class HorizonCosts:
    """Cost of one screen to a horizon by planned age, and what each cause brings; made by `horizon_costs`."""

    def __len__(self) -> int: ...
    @property
    def age_hours(self) -> _Array:
        """The planned ages, hours, (n,)."""
    @property
    def cost(self) -> _Array:
        """Mean cost to the horizon at each age, (n,)."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class HourLimit:
    """The age that no advice may pass; made by `hour_limit` from printed hours, or with a recorded reason.

    Examples
    --------
    >>> import relamp
    >>> limit = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
    >>> limit.hours, limit.origin
    (2500.0, 'maker_maximum')
    """

    @property
    def hours(self) -> float:
        """The limit in force, hours."""
    @property
    def maker_hours(self) -> float:
        """The maker's limit, hours; lamps stay judged against it whatever limit is in force."""
    @property
    def origin(self) -> str:
        """Where the limit in force comes from: "maker_maximum", "warranty" or "override"."""
    @property
    def reason(self) -> str:
        """The recorded reason of an override; empty otherwise."""
    def cap(self, age_hours: float, /) -> float:
        """An age as it may be shown as advice: rounded down, at most the limit."""
    def reached(self, age_hours: float, /) -> bool:
        """Whether a lamp of this age is at or past the limit in force."""
    def maker_reached(self, age_hours: float, /) -> bool:
        """Whether a lamp of this age is at or past the maker's limit."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Incidence:
    """Probability to have failed by each cause by each age, all causes acting; made by `incidence`.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([10.0, 20.0], [10.0, 20.0], ending=["burst", "dim"])
    >>> relamp.incidence(tally).incidence_at("burst", 15.0)
    0.5
    """

    @property
    def ages(self) -> _Array:
        """Ages at which lamps failed, ascending, hours, (steps,)."""
    @property
    def reliability(self) -> _Array:
        """Probability to have failed by no cause by each age, (steps,)."""
    @property
    def endings(self) -> tuple[str, ...]:
        """The endings seen, in order."""
    @property
    def conditional_from(self) -> float:
        """The curves hold for lamps that reached this age, hours; 0 for curves from new."""
    @property
    def last_age(self) -> float:
        """Largest age at which a lamp was under observation, hours."""
    @property
    def reading(self) -> str | None:
        """How failures known to an interval were read; None where there were none."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What to know when reading the curves: pairs of rule and sentence."""
    @overload
    def incidence_at(self, cause: str, age: float) -> float | None:
        """Probability to have failed by a cause by an age, or by each of many, all causes acting."""
    @overload
    def incidence_at(self, cause: str, age: Column) -> _Array: ...
    @overload
    def at_risk_at(self, age: float) -> float | None:
        """Lamps at risk at an age, or at each of many: those that came under observation before it and had not left."""
    @overload
    def at_risk_at(self, age: Column) -> _Array: ...
    def standard_error(self, cause: str) -> _Array:
        """Standard error of the incidence of a cause at each step, by the delta method."""
    def band(self, cause: str, *, level: float = 0.95, band_scale: str = "log_log") -> _Array:
        """Lower and upper end of the band of the incidence of a cause at each step."""
    @overload
    def band_at(
        self, cause: str, age: float, *, level: float = 0.95, band_scale: str = "log_log"
    ) -> tuple[float, float] | None:
        """Lower and upper end of the band of the incidence of a cause by an age, or by each of many."""
    @overload
    def band_at(self, cause: str, age: Column, *, level: float = 0.95, band_scale: str = "log_log") -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class IncidenceBounds:
    """Bounds of the incidence of one cause whatever the suspect endings were; made by `incidence_bounds`."""

    @property
    def cause(self) -> str:
        """The cause."""
    @property
    def suspects(self) -> tuple[str, ...]:
        """The endings named as suspect."""
    @property
    def suspect_lamps(self) -> int:
        """Lamps that ended so."""
    @property
    def if_none(self) -> Incidence:
        """Incidences if none of them was a failure."""
    @property
    def if_all(self) -> Incidence:
        """Incidences if each failed by the cause at the age of its ending: the upper bound."""
    @property
    def if_otherwise(self) -> Incidence:
        """Incidences if each failed by some other cause: the lower bound."""
    @property
    def age_hours(self) -> float:
        """The age at which the bounds are judged, hours."""
    @property
    def low(self) -> float:
        """Lower bound of the incidence by the age."""
    @property
    def high(self) -> float:
        """Upper bound of the incidence by the age."""
    @property
    def informative(self) -> bool:
        """Whether the bounds at the age are no wider than asked, chance left out; figures of a dial are judged with
        it."""
    @property
    def sentence(self) -> str:
        """What the bounds at the age say, in one sentence."""
    @overload
    def bounds_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper bound for the lamps of the records at an age, or at each of many."""
    @overload
    def bounds_at(self, age: Column) -> _Array: ...
    @overload
    def outer_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper bound for lamps like these at an age, or at each of many, with what chance may add."""
    @overload
    def outer_at(self, age: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class InformationTable:
    """Fits of the same records by AIC, AICc and BIC, best first; made by `compare_fits`."""

    def __len__(self) -> int: ...
    @property
    def best(self) -> str | None:
        """Family of the smallest AIC among those that no simpler one makes needless."""
    @property
    def failures(self) -> int:
        """Failures, the sample size in AICc and BIC."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Interval:
    """An estimate with its interval, level and method; made by `Fit.wald`, `Fit.profile`, `profile_corrected` or
    `Bootstrap.interval`.
    """

    @property
    def quantity(self) -> str:
        """What was asked, in words."""
    @property
    def estimate(self) -> float | None:
        """At the maximum of the likelihood; for a posterior its median. None where the records do not settle the
        quantity, so that no single value stands for it: `low` and `high` are then all there is. In `to_dict` its key is
        then missing, as None stands for an infinite estimate there.
        """
    @property
    def low(self) -> float | None:
        """Lower end; None where it is open."""
    @property
    def high(self) -> float | None:
        """Upper end; None where it is open."""
    @property
    def level(self) -> float:
        """Confidence level."""
    @property
    def sides(self) -> str:
        """Which ends the level is for: "both", the level between them, or "lower" or "upper", a bound on one side."""
    @property
    def method(self) -> str:
        """How it was made."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside it: pairs of slug and sentence."""
    @property
    def ratio(self) -> dict[str, Any] | None:
        """What the likelihood ratio was divided by.

        Its `mean` among simulated samples with `standard_error`, their number (`replicates`) and how many were left out
        for want of a fit (`unsettled`). None but for a corrected profile.
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class KnownShapeFit:
    """A Weibull life of known shape, with one-sided bounds; made by `fit_known_shape`."""

    @property
    def shape(self) -> float:
        """The shape, as given."""
    @property
    def scale(self) -> float | None:
        """Characteristic life at the maximum of the likelihood, hours; None without failures."""
    @property
    def standard_error(self) -> float | None:
        """Standard error of the scale; None without failures."""
    @property
    def scale_low(self) -> float | None:
        """Lower bound of the scale at the one-sided level, hours; None where the records do not bound it."""
    @property
    def scale_high(self) -> float | None:
        """Upper bound of the scale at the one-sided level, hours; None without failures."""
    @property
    def level(self) -> float:
        """Level of each of the two bounds by itself."""
    @property
    def method(self) -> str:
        """How the bounds were made: "count" or "profile_likelihood"."""
    @property
    def termination(self) -> str:
        """What ended the watch: "time" or "failure"."""
    @property
    def log_likelihood(self) -> float | None:
        """Maximised log-likelihood, densities per hour; None without failures."""
    @property
    def lamps(self) -> int:
        """Lamps that went in."""
    @property
    def failures(self) -> int:
        """Lamps that failed."""
    @property
    def exposure_hours(self) -> float:
        """Hours under observation."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    @property
    def life(self) -> Life | None:
        """The life at the estimate; None without failures."""
    @property
    def life_low(self) -> Life | None:
        """The life at the lower bound: its reliability at any age, and its quantiles, are the lower bounds."""
    @property
    def life_high(self) -> Life | None:
        """The life at the upper bound; None without failures."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class LastBuy:
    """Lamps to buy once before the type ends; made by `last_buy`.

    Its table holds a row for each quantity: what it leads to in shortage, leftover and cost.
    """

    @property
    def buy(self) -> int:
        """Lamps to buy: the quantity less those on hand."""
    @property
    def quantity(self) -> int:
        """The quantity to hold, those on hand included, lamps."""
    @property
    def held(self) -> int:
        """Lamps held once these are bought; more than the quantity where more is on hand."""
    @property
    def needed(self) -> Count:
        """New lamps taken from the shelf until the end, those found unusable included."""
    @property
    def needed_plain(self) -> Count:
        """The same if no freed lamp were used again and none were lost on the shelf."""
    @property
    def ratio(self) -> float:
        """Share of futures in which the quantity is to suffice: 1 - risk, or the critical ratio of the costs."""
    @property
    def shortage_chance(self) -> float:
        """Chance that more lamps are needed than held."""
    @property
    def expected_short(self) -> float:
        """Mean lamps short."""
    @property
    def expected_left(self) -> float:
        """Mean lamps left over, usable or not."""
    @property
    def cost(self) -> float | None:
        """Mean cost of the lamps held and of those short, less money back; None where a risk sets the quantity."""
    @property
    def sentence(self) -> str:
        """The advice in plain words."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What may mislead."""
    def saved_by(self, earlier: LastBuy, *, screens: int) -> dict[str, Any]:
        """What the same fleet with some screens converted earlier saves."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class LeadDemand:
    """Lamps needed while an order is on its way, and until the next one can be placed; made by `lead_demand`."""

    @property
    def lead(self) -> Count:
        """Lamps needed over the lead time."""
    @property
    def moment(self) -> Count:
        """Lamps needed since the last order that has arrived, at a moment like any other."""
    @property
    def protected(self) -> Count:
        """Lamps needed over lead time and review period."""
    @property
    def needed_a_day(self) -> float:
        """Mean lamps needed a day."""
    @property
    def lead_time_days(self) -> float:
        """Mean lead time, days."""
    @property
    def review_days(self) -> float:
        """Days between two looks at the shelf; 0 where it is watched all the time."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class LeastRegret:
    """The age whose largest regret over a range of cost ratios is least; made by `least_regret`. No age in it passes
    the limit.

    Its table holds a row for each end of the range.
    """

    @property
    def age_hours(self) -> float:
        """The advice: whole hours, rounded down, at most the limit."""
    @property
    def regret_percent(self) -> float:
        """The most that this age costs more than the best one of any ratio in the range, percent."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Life:
    """A life distribution: every function of age; made by `life` or `Fit.life`. Ages are hours.

    Each function takes one age (and gives one number) or a column of ages (and gives an array).

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
    >>> round(life.reliability(1000.0), 6)
    0.367879
    >>> life.b_life(10.0) == life.quantile(0.1)
    True
    """

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def parameters(self) -> dict[str, float]:
        """Parameters by name."""
    @overload
    def reliability(self, age: float) -> float:
        """Probability to pass the age."""
    @overload
    def reliability(self, age: Column) -> _Array: ...
    @overload
    def failure_probability(self, age: float) -> float:
        """Probability to have failed by the age."""
    @overload
    def failure_probability(self, age: Column) -> _Array: ...
    @overload
    def conditional_reliability(self, age: float, *, reached: float) -> float:
        """Probability to pass the age for a lamp that has reached an earlier one: 1 up to that one."""
    @overload
    def conditional_reliability(self, age: Column, *, reached: float) -> _Array: ...
    @overload
    def hazard(self, age: float) -> float:
        """Failures per hour among lamps that reached the age."""
    @overload
    def hazard(self, age: Column) -> _Array: ...
    @overload
    def cumulative_hazard(self, age: float) -> float:
        """Integral of the hazard to the age."""
    @overload
    def cumulative_hazard(self, age: Column) -> _Array: ...
    @overload
    def density(self, age: float) -> float:
        """Density of the age at failure: failures per hour among all lamps that were new."""
    @overload
    def density(self, age: Column) -> _Array: ...
    @overload
    def ln_density(self, age: float) -> float:
        """Logarithm of the density; minus infinity where the density is 0."""
    @overload
    def ln_density(self, age: Column) -> _Array: ...
    @overload
    def ln_reliability(self, age: float) -> float:
        """Logarithm of the reliability, which keeps its digits far out in the tail."""
    @overload
    def ln_reliability(self, age: Column) -> _Array: ...
    @overload
    def ln_failure_probability(self, age: float) -> float:
        """Logarithm of the failure probability, which keeps its digits near age 0."""
    @overload
    def ln_failure_probability(self, age: Column) -> _Array: ...
    def ln_density_derivatives(self, age: float) -> dict[str, Any]:
        """Derivatives of the logarithm of the density over the parameters and the age."""
    def ln_reliability_derivatives(self, age: float) -> dict[str, Any]:
        """Derivatives of the logarithm of the reliability over the parameters and the age."""
    def ln_failure_probability_derivatives(self, age: float) -> dict[str, Any]:
        """Derivatives of the logarithm of the failure probability over the parameters and the age."""
    @overload
    def quantile(self, p: float) -> float:
        """Age by which a share has failed."""
    @overload
    def quantile(self, p: Column) -> _Array: ...
    @overload
    def b_life(self, x: float) -> float:
        """Age by which a percentage has failed: `b_life(10.0)` is the B10 life."""
    @overload
    def b_life(self, x: Column) -> _Array: ...
    @overload
    def mean_to(self, age: float) -> float:
        """Mean age at change when lamps are changed at the age or at failure: the integral of the reliability."""
    @overload
    def mean_to(self, age: Column) -> _Array: ...
    @overload
    def mean_residual_life(self, age: float) -> float:
        """Mean hours still to come for a lamp that has reached the age."""
    @overload
    def mean_residual_life(self, age: Column) -> _Array: ...
    @property
    def mean(self) -> float:
        """Mean age at failure, hours."""
    @property
    def variance(self) -> float:
        """Variance of the age at failure, hours squared; infinite where there is none."""
    def draws(self, n: int, *, seed: int) -> _Array:
        """Random ages at failure; the same for the same seed."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class LifeBars:
    """How far the life of each cause, as the records leave it open, moves the planned age; made by `life_bars`. No age
    in it passes the limit.

    Its table holds a row for every cause drawn together, then one for each cause drawn alone, the widest first.
    """

    def __len__(self) -> int: ...
    @property
    def planned(self) -> PlannedAge:
        """The advice at the estimates."""
    @property
    def level(self) -> float:
        """Level of the bars."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class LikelihoodRegion:
    """The joint confidence region of two parameters, a polygon; made by `Fit.region`."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def parameters(self) -> tuple[str, str]:
        """Names of the two parameters."""
    @property
    def estimate(self) -> tuple[float | None, float | None]:
        """Both parameters at the maximum of the likelihood; None for one that the records do not settle."""
    @property
    def at_maximum(self) -> tuple[float, float]:
        """Both parameters at the maximum of the likelihood, settled or not."""
    @property
    def corners(self) -> _Array:
        """Corners of the polygon in order, (corners, 2); the last joins the first."""
    @property
    def level(self) -> float:
        """Joint confidence level."""
    @property
    def relative_log_likelihood(self) -> float:
        """ln L on the border less its maximum: ln(1 - level)."""
    @property
    def closed(self) -> bool:
        """Whether the border closes; an open region is cut where the search ended."""
    def contains(self, *, first: float, second: float) -> bool:
        """Whether a pair of parameters lies inside."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...

@final
class LikelihoodRatio:
    """Whether a family with fewer parameters is enough; made by `likelihood_ratio` or `likelihood_ratio_bootstrap`."""

    @property
    def statistic(self) -> float:
        """Twice the difference of the log-likelihoods."""
    @property
    def degrees_of_freedom(self) -> int:
        """Degrees of freedom of the chi-square law, or of its half above 0: parameters that the narrow family fixes."""
    @property
    def law(self) -> str:
        """The law behind the chance: "chi_square", "half_chi_square" (on the edge of the wide family's range) or
        "parametric_bootstrap".
        """
    @property
    def replicates(self) -> int:
        """Replicates behind the chance; 0 for a law in closed form."""
    @property
    def p_value(self) -> float:
        """Chance of a statistic at least this large if the narrow family holds, by `law`."""
    @property
    def restriction(self) -> str:
        """What the narrow family says of the wide one's parameters."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class LimitPlan:
    """The stages that raise a chain's own limit to the maker's; made by `limit_stages`. No stage passes the maker's.

    Its table holds a row for each stage.
    """

    def __len__(self) -> int: ...
    @property
    def limit_hours(self) -> float:
        """The limit in force, hours."""
    @property
    def maker_hours(self) -> float:
        """The maker's limit, in whole hours."""
    @property
    def sentence(self) -> str:
        """The plan in words, or that there is none."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class MeanHours:
    """Mean hours worked between two ages by lamps that reached the first.

    Made by `Curve.restricted_mean_interval` and `Curve.mean_residual_life`.
    """

    @property
    def reached_hours(self) -> float:
        """The age that lamps have reached, hours."""
    @property
    def to_hours(self) -> float:
        """The age up to which hours are counted."""
    @property
    def mean_hours(self) -> float:
        """Mean hours worked between the two ages."""
    @property
    def standard_error(self) -> float:
        """Standard error of the mean, hours."""
    @property
    def low(self) -> float:
        """Lower end of the interval, hours."""
    @property
    def high(self) -> float:
        """Upper end of the interval, hours."""
    @property
    def level(self) -> float:
        """Level of the interval."""
    @property
    def still_working(self) -> float:
        """Share of these lamps still working at `to_hours`, whose later hours are not counted."""
    @property
    def sentence(self) -> str:
        """What was counted, in one sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PairCost:
    """What two groups of lamps cost per hour beside each other; made by `compare_pair_costs`. Its table has one row
    for each.
    """

    @property
    def verdict(self) -> str:
        """What it comes to: "first_cheaper", "second_cheaper", "alike" or "not_enough"."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def age_verdicts(self) -> tuple[str, str] | None:
        """Why the planned age of each group stands where it does, in words as `PlannedAge.verdict` has them; None at a
        common age.
        """
    @property
    def difference_per_1000_hours(self) -> tuple[float, float, float]:
        """Cost of the first less that of the second, per 1,000 h: estimate, lower and upper end."""
    @property
    def share_first_cheaper(self) -> float:
        """Chance, over the redraws, that the first group is cheaper."""
    @property
    def worth_per_1000_hours(self) -> float:
        """Difference that matters, per 1,000 h."""
    @property
    def more_failures(self) -> tuple[int, int] | None:
        """Failures more that each group needs, about; None where there is a verdict or clusters are lacking."""
    @property
    def more_lamps(self) -> tuple[int, int] | None:
        """Lamps that bring them, at the share that has failed so far; None where there is a verdict or clusters are
        lacking.
        """
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PairFit:
    """Two groups of lamps compared at equal age; made by `compare_pair`.

    It holds numbers, never data. Its table has one row for each group; the mean age of the lamps that came out stands
    there because it misleads: a young group has lost young lamps.
    """

    @property
    def by(self) -> str:
        """The category whose levels are compared."""
    @property
    def groups(self) -> tuple[str, str]:
        """Names of the groups, first and second."""
    @property
    def life_ratio(self) -> tuple[float, float | None, float | None]:
        """Lives of the first group over those of the second: estimate, lower and upper end; None where an end
        is open.
        """
    @property
    def hazard_ratio(self) -> tuple[float, float | None, float | None] | None:
        """Hazard of the first group over that of the second, likewise; None where the records cannot say."""
    @property
    def p_value(self) -> float:
        """Chance of a difference of lives at least this large among groups that are alike."""
    @property
    def level(self) -> float:
        """Level of the intervals."""
    @property
    def adjusted(self) -> tuple[str, ...]:
        """Terms that the comparison is adjusted for."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Phases:
    """Whether one Weibull life hides two phases; made by `phases`."""

    @property
    def age_hours(self) -> float:
        """Age at which the two lives meet best, hours."""
    @property
    def early_shape(self) -> float:
        """Shape before that age."""
    @property
    def late_shape(self) -> float:
        """Shape after it."""
    @property
    def statistic(self) -> float:
        """Twice the rise of the log-likelihood over one life."""
    @property
    def p_value(self) -> float:
        """Chance of a rise at least this large if one life holds."""
    @property
    def two_phases(self) -> bool:
        """Whether that chance is below 5 %."""
    @property
    def verdict(self) -> str:
        """The answer in plain words."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...

@final
class Places:
    """Sites that are filled from one depot; made by `places`.

    Its table holds a row for each site.
    """

    def __len__(self) -> int: ...
    @property
    def sites(self) -> tuple[str, ...]:
        """Names of the sites, in order."""
    @property
    def maker_days(self) -> float | None:
        """Mean days from the maker to the depot."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PlacesService:
    """What stock at a depot and its sites leads to in the long run; made by `place_service`.

    Its table holds a row for each site: fill_rate is P(on way <= stock - 1), no_screen_waiting P(on way <= stock) and
    screens_waiting E(on way - stock)+; `definitions` says so of each number, which also stands in the summary.
    """

    @property
    def definitions(self) -> dict[str, str]:
        """What each number of service is, by name, as the same words mean other things elsewhere."""
    @property
    def lamps(self) -> int:
        """All lamps held, depot and sites."""
    @property
    def fill_rate(self) -> float:
        """Share of all needs filled at once from the site's own shelf."""
    @property
    def screens_waiting(self) -> float:
        """Mean screens that wait for a lamp, all sites."""
    @property
    def dark_hours_per_year(self) -> float:
        """Mean programme hours a year that are dark for want of a lamp, all sites."""
    @property
    def depot_wait_days(self) -> float:
        """Mean days that a site's order waits at the depot."""
    @property
    def method(self) -> str:
        """How the lamps on their way were counted: exact, means or two_moments."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What may mislead."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PlannedAge:
    """The planned age of a lamp class and what it costs; made by `planned_age`. No age in it passes the limit.

    Under another objective than the cost per hour, every cost in it is in the amounts of that objective: money at its
    even discounted rate, or dark minutes.
    """

    @property
    def verdict(self) -> str:
        """Why the age stands where it does, one word."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def objective(self) -> str:
        """What the age is chosen by: "cost_per_hour", "discounted_cost" or "dark_minutes"."""
    @property
    def present_value(self) -> float | None:
        """Under a discount, what all changes to come in a socket are worth on the day it gets a new lamp, that lamp not
        counted; None under another objective.
        """
    @property
    def availability(self) -> float | None:
        """Under dark minutes, the share of the time asked for that a screen has light; None under another objective."""
    @property
    def age_hours(self) -> float:
        """The advice: whole hours, rounded down, at most the limit."""
    @property
    def cost_per_hour(self) -> float:
        """Long-run cost per lamp hour at that age."""
    @property
    def failure_probability(self) -> float:
        """Probability to fail before that age."""
    @property
    def mean_age_at_change_hours(self) -> float:
        """Mean age at change under that rule, hours."""
    @property
    def optimum_hours(self) -> float:
        """Age of least cost not past the limit or the records, before rounding."""
    @property
    def optimum_cost_per_hour(self) -> float:
        """Cost per hour there."""
    @property
    def limit_hours(self) -> float:
        """The limit in force, hours."""
    @property
    def ceiling_hours(self) -> float:
        """The age that the search did not pass: the limit, or the oldest lamp at risk if earlier."""
    @property
    def oldest_at_risk_hours(self) -> float | None:
        """Age of the oldest lamp at risk, hours; None where it was not given."""
    @property
    def past_records(self) -> bool:
        """Whether the advised age lies past the oldest lamp at risk, where the model is an opinion."""
    @property
    def near_best(self) -> tuple[tuple[float, float], ...]:
        """Stretches of ages whose cost is near the least: (from, to), hours, cut at the limit."""
    @property
    def todays_rule_cost_per_hour(self) -> float | None:
        """Cost per hour under today's rule, held to the limit; None without one."""
    @property
    def run_to_failure_cost_per_hour(self) -> float | None:
        """Cost per hour if lamps ran to failure, only to compare; None where it does not settle."""
    @property
    def saving_against_todays_rule(self) -> float | None:
        """Saving per hour against today's rule; negative where today's rule is cheaper."""
    @property
    def saving_against_run_to_failure(self) -> float | None:
        """Saving per hour against running to failure."""
    @property
    def near_best_ends(self) -> tuple[tuple[str, str], ...]:
        """What the two ends of each such stretch are: "exact" where the cost passes the bound, "at_limit" or
        "records_end" where the stretch is cut.
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PlayedChain:
    """A chain played out with its stock; made by `play_chain`.

    Its table has a row for each month: means over the plays of lamps needed, dark programme hours, lamps ordered, lamps
    from elsewhere and lamps on all shelves at its end, each with its standard error (empty for one play), and
    quantiles of the lamps needed.
    """

    def __len__(self) -> int: ...
    @property
    def replicates(self) -> int:
        """Plays of the whole chain."""
    @property
    def draws(self) -> int | None:
        """Draws of which each play took one; None for one world."""
    @property
    def ever_short(self) -> float:
        """Share of plays in which a lamp was ever asked for in vain."""
    @property
    def ever_short_error(self) -> float | None:
        """Its standard error; None for one play."""
    @property
    def no_stock_out_per_cycle(self) -> float | None:
        """Share of orders just before whose coming nobody waited; with reviews of reviews, a lead time later. None
        without any.
        """
    @property
    def orders_a_year(self) -> float:
        """Orders to the maker a year, after the warm-up."""
    def needed(self, month: int) -> Count:
        """Lamps needed in a month: their distribution over the replicates.

        Parameters
        ----------
        month : int
            From 1, the first, to the number of months.

        Returns
        -------
        Count

        Raises
        ------
        InputError
            For a month that was not played.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_chain(
        ...     world, site=["north"], age_hours=[None], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
        ...     planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        ... )
        >>> played.needed(1).first
        1
        """
    def needed_by_end(self, month: int) -> Count:
        """Lamps needed from the start to the end of a month: their distribution over the replicates.

        Parameters
        ----------
        month : int
            From 1, the first, to the number of months.

        Returns
        -------
        Count

        Raises
        ------
        InputError
            For a month that was not played.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_chain(
        ...     world, site=["north"], age_hours=[None], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
        ...     planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        ... )
        >>> played.needed_by_end(12).mean >= played.needed_by_end(1).mean
        True
        """
    def places(self) -> Table:
        """What the stock of each place brought, after the warm-up.

        Returns
        -------
        Table
            One row for the store that the maker fills, whose name is blank, and for each site with a shelf: lamps asked
            for a year, the share that was there, shares of time, means and dark hours, each with its standard error.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_chain(
        ...     world, site=["north", "south"], age_hours=[100.0, None], hours_per_week=70.0, as_of="2026-01-01",
        ...     limit=limit, planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        ...     site_days=2.0, site_stock={"north": 1},
        ... )
        >>> played.places().frame()["place"].to_list()
        ['', 'north', 'south']
        """
    def costs(self) -> Table:
        """Costs a year, after the warm-up.

        Returns
        -------
        Table
            One row for each part and one for the total, with its standard error; no row where `play_chain` was given no
            costs.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_chain(
        ...     world, site=["north"], age_hours=[None], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
        ...     planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        ...     costs=relamp.stock_costs(800.0, per_order=45.0),
        ... )
        >>> played.costs().frame()["part"].to_list()
        ['holding', 'ordering', 'lamps', 'waiting', 'emergencies', 'total']
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PlayedFleet:
    """A fleet played out under one rule of change; made by `play_fleet`.

    Its table has a row for each period: mean changes, cost, dark minutes and visits of the whole fleet, each with its
    standard error (empty where no site was played twice), and quantiles of the lamps needed.
    """

    def __len__(self) -> int: ...
    @property
    def change(self) -> str:
        """How lamps were changed: the word given to `play_fleet`."""
    @property
    def sockets(self) -> int:
        """Screens."""
    @property
    def sites(self) -> int:
        """Sites."""
    @property
    def due_now(self) -> int:
        """Of the lamps of today, those changed at the start."""
    @property
    def replicates(self) -> int:
        """Plays of the whole fleet."""
    @property
    def period_days(self) -> float:
        """Length of a period, days."""
    @property
    def limit_hours(self) -> float:
        """The limit that no lamp passed, hours."""
    @property
    def cost(self) -> float:
        """Mean cost of the whole fleet over all periods."""
    @property
    def cost_error(self) -> float | None:
        """Its standard error; None where no site was played twice."""
    @property
    def cost_per_hour(self) -> float | None:
        """Mean cost per burning hour over all periods; None where nothing burns."""
    @property
    def cost_per_hour_error(self) -> float | None:
        """Its standard error; None where no site was played twice."""
    @property
    def discounted_cost(self) -> float | None:
        """Mean cost over all periods, each amount at what it is worth at the start; None without a discount."""
    @property
    def discounted_cost_error(self) -> float | None:
        """Its standard error; None without a discount, and where no site was played twice."""
    @property
    def dark_minutes_per_1000_hours(self) -> float | None:
        """Mean dark minutes per 1,000 burning hours over all periods; None where no dark minutes of a change were
        given, and where nothing burns.
        """
    @property
    def dark_minutes_per_1000_hours_error(self) -> float | None:
        """Its standard error; None where there is no mean, and where no site was played twice."""
    def needed(self, period: int) -> Count:
        """Lamps needed in a period: their distribution over the replicates.

        Parameters
        ----------
        period : int
            From 1, the first, to the number of periods.

        Returns
        -------
        Count

        Raises
        ------
        InputError
            For a period that was not played.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_fleet(
        ...     world, [100.0, 1900.0, None], hours_per_week=70.0, limit=limit, change="at_age",
        ...     planned_age_hours=2000.0, seed=1,
        ... )
        >>> played.needed(1).first
        2
        """
    def needed_by_end(self, period: int) -> Count:
        """Lamps needed from the start to the end of a period: their distribution over the replicates.

        Parameters
        ----------
        period : int
            From 1, the first, to the number of periods.

        Returns
        -------
        Count

        Raises
        ------
        InputError
            For a period that was not played.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_fleet(
        ...     world, [100.0, 1900.0, None], hours_per_week=70.0, limit=limit, change="at_age",
        ...     planned_age_hours=2000.0, seed=1,
        ... )
        >>> played.needed_by_end(12).mean >= played.needed_by_end(1).mean
        True
        """
    def changes(self) -> Table:
        """Changes by what brought them, period by period.

        Returns
        -------
        Table
            One row for each period and way: the kind of planned change (`due_now`, `at_age`, `at_visit`,
            `on_calendar`, `with_site`, `at_limit`) or the failure, the mean number of lamps of the whole fleet and
            the dark minutes that they brought, each with its standard error. Kinds that never came are left out.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_fleet(
        ...     world, [100.0, 1900.0, None], hours_per_week=70.0, limit=limit, change="at_age",
        ...     planned_age_hours=2000.0, seed=1,
        ... )
        >>> played.changes().frame()["way"].unique(maintain_order=True).to_list()
        ['due_now', 'at_age', 'burst']
        """
    def ages_at_ending(self) -> Table:
        """How old lamps were when they ended, over all periods.

        Returns
        -------
        Table
            One row for each kind of planned change that came and each failure: mean number of lamps of known age of
            the whole fleet, their mean age in hours, both with standard errors, and the oldest age.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_fleet(
        ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age",
        ...     planned_age_hours=2000.0, seed=1,
        ... )
        >>> played.ages_at_ending().frame().row(0, named=True)["oldest_hours"]
        2000.0
        """
    def ages(self) -> Table:
        """Numbers of lamps by age at ending, over all periods.

        Returns
        -------
        Table
            For each row of `ages_at_ending` 20 equal stretches of age from 0 to the limit, with the mean number of
            lamps of the whole fleet that ended in each. Lamps past the limit at the start stand in the last.

        Examples
        --------
        >>> import relamp
        >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        >>> played = relamp.play_fleet(
        ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age",
        ...     planned_age_hours=2000.0, seed=1,
        ... )
        >>> played.ages().frame().row(19)[:3]
        ('at_age', 1900.0, 2000.0)
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PlottingPositions:
    """The failed share that stands for each failure, by its adjusted rank; made by `plotting_positions`."""

    @property
    def ages(self) -> _Array:
        """Ages at failure, ascending, hours, (failures,)."""
    @property
    def ranks(self) -> _Array:
        """Ranks, adjusted for right-censored lamps, (failures,)."""
    @property
    def positions(self) -> _Array:
        """Failed shares, (failures,)."""
    @property
    def rule(self) -> str:
        """How the shares came from the ranks: "median" or "benard"."""
    @property
    def lamps(self) -> int:
        """Lamps in the sample."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PoissonShortcut:
    """A stock from the whole distribution of the number needed beside a Poisson one of the same mean; made by
    `poisson_shortcut`.
    """

    @property
    def level(self) -> int:
        """Least stock that meets the target."""
    @property
    def shortcut_level(self) -> int:
        """What the shortcut holds."""
    @property
    def stock_error(self) -> int:
        """Lamps that the shortcut holds too many; below 0 where it holds too few."""
    @property
    def service_error(self) -> float:
        """What the shortcut says too much, below 0 too little, of the service at the level."""
    @property
    def service_at_shortcut_level(self) -> float:
        """Chance of no shortage with what the shortcut holds."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Pooling:
    """The sites with a shelf each, and the same lamps as one stock; made by `pooling`."""

    @property
    def lamps_saved(self) -> int:
        """Lamps that one stock saves while no more screens wait."""
    @property
    def dark_hours_per_year(self) -> float:
        """Mean dark programme hours a year with one stock."""
    @property
    def transfers_per_year(self) -> float:
        """Transfers a year between sites that help each other, by a rule of thumb."""
    @property
    def cost_per_dark_hour_saved(self) -> float | None:
        """Cost of the transfers for each dark hour they save; None where they save none."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What may mislead."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PowerLaw:
    """A power-law process: scale x age^shape failures of a socket by an age, on average; made by `power_law`."""

    @property
    def estimate(self) -> str:
        """Which estimate it is: "maximum_likelihood" or "unbiased"."""
    @property
    def shape(self) -> float:
        """Exponent of the age: above 1 the rate rises."""
    @property
    def scale(self) -> float:
        """Mean failures of a socket by age 1."""
    @property
    def shape_interval(self) -> tuple[float, float]:
        """Interval of the shape at the level."""
    @property
    def exact(self) -> bool:
        """Whether that interval is exact; else it is by curvature."""
    @property
    def level(self) -> float:
        """Level of the intervals."""
    @property
    def mean_between_interval_at_end(self) -> tuple[float, float | None] | None:
        """Interval of the mean age between failures at the common end of watches, if any; no upper end: open."""
    @property
    def log_likelihood(self) -> float:
        """Maximised log-likelihood."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    @overload
    def mean(self, age: float) -> float:
        """Mean failures of a socket by an age, or by each of many."""
    @overload
    def mean(self, age: Column) -> _Array: ...
    @overload
    def rate(self, age: float) -> float:
        """Failures of a socket for each unit of age at an age, or at each of many."""
    @overload
    def rate(self, age: Column) -> _Array: ...
    @overload
    def rate_interval(self, age: float) -> tuple[float, float]:
        """Interval of the rate at an age, or at each of many, by curvature on its logarithm."""
    @overload
    def rate_interval(self, age: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PowerLawDistance:
    """How far failures stray from a power law; made by `power_law_distance`."""

    @property
    def distance(self) -> float:
        """Distance in the manner of Cramer and von Mises."""
    @property
    def p_value(self) -> float:
        """Share of simulated power-law samples that stray as far or farther."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PriceScenarios:
    """Planned ages under several sets of prices; made by `price_scenarios`. No age in it passes the limit.

    Its table holds one row for each advice under each scenario: those of the scenarios themselves, then "least regret"
    and "least mean cost".
    """

    def __len__(self) -> int: ...
    @property
    def planned(self) -> dict[str, PlannedAge]:
        """The advice under each scenario, by its name."""
    @property
    def least_regret_hours(self) -> float:
        """The age whose largest regret over the scenarios is least: whole hours, at most the limit."""
    @property
    def least_regret_percent(self) -> float:
        """The most that this age costs more than the best age of any scenario, percent."""
    @property
    def least_mean_hours(self) -> float:
        """The age of least cost on the mean over the scenarios by their weights: whole hours, at most the limit."""
    @property
    def least_mean_cost_per_hour(self) -> float:
        """Mean cost per hour there."""
    @property
    def sentence(self) -> str:
        """The advice in words."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ProbabilityPlot:
    """A probability plot in numbers: a life of its family is a straight line on it; made by `probability_plot`."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def of_fit(self) -> bool:
        """Whether the fitted life makes the scales, as its family has none of its own."""
    @property
    def ages(self) -> _Array:
        """Ages at failure, hours, (points,)."""
    @property
    def shares(self) -> _Array:
        """Failed share plotted at each age, the middle of the step, (points,)."""
    @property
    def x(self) -> _Array:
        """Horizontal places, (points,)."""
    @property
    def y(self) -> _Array:
        """Vertical places, (points,)."""
    @property
    def pointwise(self) -> _Array:
        """Failed share after each step, lower and upper end at that age alone, (points, 2); NaN where R is 0."""
    @property
    def simultaneous(self) -> _Array:
        """The same for all ages together, (points, 2)."""
    @property
    def level(self) -> float:
        """Level of both bands."""
    @property
    def simultaneous_factor(self) -> float:
        """Standard errors to either side of the simultaneous band."""
    @property
    def band_method(self) -> str:
        """How the bands were made."""
    @overload
    def scale_age(self, age: float) -> float:
        """Horizontal place of an age, or of each of many."""
    @overload
    def scale_age(self, age: Column) -> _Array: ...
    @overload
    def scale_share(self, share: float) -> float:
        """Vertical place of a failed share, or of each of many."""
    @overload
    def scale_share(self, share: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PooledGroups:
    """Groups whose hazards vary about that of the fleet; made by `pool_groups`.

    Its table has one row for each group: lamps, failures, failures expected had it the hazard of the others, their raw
    ratio, the ratio drawn towards the fleet with its interval, the chance that it is above the threshold, and the rank,
    1 for the highest hazard, with its interval.
    """

    @property
    def by(self) -> str:
        """What the groups are: a category of the lives, "stratum" or "cluster"."""
    @property
    def family(self) -> str:
        """Name of the family of the baselines."""
    @property
    def threshold(self) -> float:
        """Hazard ratio that the chances are about."""
    @property
    def level(self) -> float:
        """Level of the intervals."""
    @property
    def prior_scales(self) -> tuple[float, ...]:
        """Scales of the half-normal prior of the spread; the first gives the answers."""
    @property
    def spread(self) -> tuple[float, float, float]:
        """Standard deviation of ln hazard between groups: median, lower and upper end of its interval."""
    @property
    def sentence(self) -> str:
        """The gist in words."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def priors(self) -> Table:
        """The answers under every scale of the prior, one row for each scale and group.

        Returns
        -------
        Table

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b", "c", "d", "e", "f"] * 10
        >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"site": site})
        >>> pooled = relamp.pool_groups(tally, by="site", draws=500, seed=1)
        >>> pooled.priors().frame()["prior_scale"].unique().sort().to_list()
        [0.25, 0.5, 1.0]
        """
    def baselines(self) -> Table:
        """Parameters of the baseline of each stratum, for a group in the middle of all.

        Returns
        -------
        Table

        Examples
        --------
        >>> import relamp
        >>> site = ["a", "b", "c", "d", "e", "f"] * 10
        >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"site": site})
        >>> relamp.pool_groups(tally, by="site", draws=500, seed=1).baselines().columns
        ['stratum', 'shape', 'scale']
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Posterior:
    """What records and prior say together of a life model; made by `posterior`.

    Its table holds mean, median and 95 % interval of each parameter.
    """

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def failures(self) -> int:
        """Lamps that failed."""
    @property
    def coordinates(self) -> _Array:
        """Coordinates of the random draws, (draws, width)."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def interval(
        self,
        *,
        parameter: str | None = None,
        quantile: float | None = None,
        b_life: float | None = None,
        reliability: float | None = None,
        hazard: float | None = None,
        mean: bool = False,
        failure_within: tuple[float, float] | None = None,
        function: Callable[[Life], float] | None = None,
        scale: str = "plain",
        level: float = 0.95,
        sides: str = "both",
    ) -> Interval:
        """An interval between quantiles of the posterior, of one quantity named as in `Fit.wald`; its estimate is the
        median.
        """
    def mean_of(
        self,
        *,
        parameter: str | None = None,
        quantile: float | None = None,
        b_life: float | None = None,
        reliability: float | None = None,
        hazard: float | None = None,
        mean: bool = False,
        failure_within: tuple[float, float] | None = None,
    ) -> float | None:
        """Posterior mean of one quantity named as in `Fit.wald`; None where it is not finite."""
    def probability_below(
        self,
        *,
        value: float,
        parameter: str | None = None,
        quantile: float | None = None,
        b_life: float | None = None,
        reliability: float | None = None,
        hazard: float | None = None,
        mean: bool = False,
        failure_within: tuple[float, float] | None = None,
    ) -> float:
        """Probability that one quantity, named as in `Fit.wald`, lies at or below a value."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...

@final
class PredictionReplay:
    """Predictions of failures set against what came, window by window; made by `replay_predictions`.

    Its table holds one row for each window.
    """

    def __len__(self) -> int: ...
    @property
    def values(self) -> tuple[float, ...]:
        """The value of each window; even between 0 and 1 where predictions hold."""
    @property
    def distance(self) -> float:
        """Largest distance of the values from an even spread."""
    @property
    def p_value(self) -> float:
        """Chance of one as large where predictions hold."""
    @property
    def held_90(self) -> int:
        """Windows whose failures lay within the interval at 90 %."""
    @property
    def too_early(self) -> int:
        """Windows not predicted, as too few failures were known before."""
    @property
    def refused(self) -> tuple[tuple[str, int], ...]:
        """Windows not predicted for another reason, by its slug."""
    @property
    def sentence(self) -> str:
        """What was found, in words, with the number of windows."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ProfileCurve:
    """The profile likelihood of one quantity over a grid of its values; made by `Fit.profile_curve`."""

    @property
    def quantity(self) -> str:
        """What was asked, in words."""
    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def estimate(self) -> float | None:
        """At the maximum of the likelihood; None where the records do not settle the quantity, so that no single value
        stands for it.
        """
    @property
    def at_maximum(self) -> float:
        """At the maximum of the likelihood, settled or not."""
    @property
    def values(self) -> _Array:
        """Values of the quantity, ascending, (points,)."""
    @property
    def relative_log_likelihood(self) -> _Array:
        """ln L at each value, maximised over everything else, less its maximum, (points,)."""
    @property
    def level(self) -> float:
        """Confidence level."""
    @property
    def cut(self) -> float:
        """Height of the curve at the two ends of the interval."""
    @property
    def one_sided_cut(self) -> float:
        """Height of the curve at the bounds that hold at the level by themselves."""
    @property
    def low(self) -> float | None:
        """Lower end of the interval; None where the curve stays above the cut."""
    @property
    def high(self) -> float | None:
        """Upper end of the interval; None where the curve stays above the cut."""
    @property
    def lower_bound(self) -> float | None:
        """Lower bound at the level by itself; None where it is open."""
    @property
    def upper_bound(self) -> float | None:
        """Upper bound at the level by itself; None where it is open."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...

@final
class Proportionality:
    """Tests of proportional hazards, one row a term and one for all; made by `HazardFit.proportionality`."""

    @property
    def scale(self) -> str:
        """The scale of age: "product_limit", "age" or "rank"."""
    @property
    def p_value(self) -> float:
        """Chance of tests at least this strong, all terms together, if hazards are proportional."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class PurchaseList:
    """What to order now and for each coming period; made by `purchase_list`.

    Its table holds a period a row: lamps needed and there by its end, and the order for it. The order of today
    stands beside them, in `order_now`.
    """

    @property
    def sentence(self) -> str:
        """The list in plain words."""
    @property
    def order_now(self) -> int:
        """Lamps to order today: what the stock level over the lead time asks for, in whole boxes."""
    @property
    def order_lamps(self) -> int:
        """Lamps of all orders."""
    @property
    def price(self) -> float:
        """Their price."""
    @property
    def last_order_day(self) -> int:
        """Last day on which an order can be part of the list: later ones are for needs past the last period."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class RankFit:
    """A life read off a straight line through plotting positions; made by `rank_regression`. It has no intervals."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def parameters(self) -> dict[str, float]:
        """Estimates by name."""
    @property
    def r_squared(self) -> float:
        """Squared correlation of the points on the scales of the plot: 1 for points on a line."""
    @property
    def regression_on(self) -> str:
        """Which distances were made small: "age" (x on y) or "share" (y on x)."""
    @property
    def points(self) -> PlottingPositions:
        """The points."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    @property
    def life(self) -> Life:
        """The life on the line."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Reading:
    """What a reading of logs gives: spells, lives by serial, and the ledger that accounts for every row.

    Its own table (`table`, `frame`) is that of the spells in use.
    """

    @property
    def counts(self) -> dict[str, int]:
        """Rows in, and what became of them: rows = used + merged + set_aside."""
    @property
    def reconciles(self) -> bool:
        """Whether rows = used + merged + set_aside; anything else is a defect of this library."""
    @property
    def warning(self) -> str:
        """What to know before using any figure: that more rows were set aside than figures should rest on, or that a
        log does not bear out its column map; empty where nothing is to be said."""
    @property
    def counts_by_file(self) -> tuple[tuple[str, dict[str, int]], ...]:
        """The same counts by file, in the order given."""
    def spells(self) -> Table:
        """Spells in use, one row each."""
    def lives(self) -> Table:
        """Lives joined by serial, one row each."""
    def ledger(self) -> Table:
        """Every finding, in order of file and line."""
    def disputed(self) -> Table:
        """Open lamps whose age is not known or whose presence is doubtful: treat as due."""
    def tally(
        self,
        *,
        failure_endings: Sequence[str] | None = None,
        cluster: str = "life",
        meter_step_hours: float = 1.0,
        covariates: Sequence[str] | None = None,
    ) -> Tally:
        """A tally of the lives: one row for each stretch under observation."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Recurrence:
    """Mean number of failures of a socket by age, with robust standard errors; made by `recurrence`."""

    @property
    def ages(self) -> _Array:
        """Ages at which lamps failed, ascending, (steps,)."""
    @property
    def at_risk(self) -> _Counts:
        """Sockets under observation at each step, (steps,)."""
    @property
    def failures(self) -> _Counts:
        """Failures at each step, (steps,)."""
    @property
    def mean(self) -> _Array:
        """Mean number of failures of a socket by each step, (steps,)."""
    @property
    def standard_error(self) -> _Array:
        """Its standard error, from the spread between sockets, (steps,); NaN with a single socket."""
    @property
    def band(self) -> _Array:
        """Lower and upper end of the band at each step, for one age at a time, (steps, 2); NaN with a single socket."""
    @property
    def level(self) -> float:
        """Level of the band."""
    @property
    def last_age(self) -> float:
        """Largest age at which a socket was watched."""
    @property
    def sockets(self) -> int:
        """Number of sockets."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What to know when reading the curve: pairs of rule and sentence."""
    @overload
    def mean_at(self, age: float) -> float | None:
        """Mean number of failures of a socket by an age, or by each of many."""
    @overload
    def mean_at(self, age: Column) -> _Array: ...
    @overload
    def band_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper end of the band at an age, or at each of many, for one age at a time."""
    @overload
    def band_at(self, age: Column) -> _Array: ...
    @overload
    def at_risk_at(self, age: float) -> float | None:
        """Sockets under observation at an age, or at each of many: their watch had begun before it and not ended."""
    @overload
    def at_risk_at(self, age: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class RecurrenceDifference:
    """How much higher the mean number of failures is in one group of sockets than in another; made by
    `recurrence_difference`.
    """

    @property
    def ages(self) -> _Array:
        """Ages at which either curve steps, (steps,)."""
    @property
    def difference(self) -> _Array:
        """Mean of the first group less that of the second, (steps,)."""
    @property
    def band(self) -> _Array:
        """Lower and upper end of the interval at each step, for one age at a time, (steps, 2)."""
    @property
    def standard_error(self) -> _Array:
        """Standard error of the difference, from the spread between sockets, (steps,)."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What to know when reading it: pairs of rule and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class RecurrenceTest:
    """Whether groups of sockets fail at one rate, age by age; made by `recurrence_test`."""

    @property
    def statistic(self) -> float:
        """Robust chi-square of failures seen less expected."""
    @property
    def degrees(self) -> int:
        """Its degrees of freedom."""
    @property
    def reference(self) -> tuple[float, float] | None:
        """Degrees of freedom, above and below, of the F law that statistic / degrees is held against.

        None for a test saved before there were any, which was held against chi-square.
        """
    @property
    def p_value(self) -> float:
        """Chance of such a statistic or a larger one where the groups do not differ."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What to know when reading it: pairs of rule and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class RemovalBounds:
    """Bounds of the reliability whatever the lamps taken out early would have done; made by `removal_bounds`."""

    @property
    def suspects(self) -> tuple[str, ...]:
        """The endings named as suspect."""
    @property
    def suspect_lamps(self) -> int:
        """Lamps that ended so."""
    @property
    def if_at_once(self) -> Curve:
        """The curve if each would have failed at once: the lower bound."""
    @property
    def if_never(self) -> Incidence:
        """What failed ("unknown") while others were taken out ("other"): 1 less the failures is the upper bound."""
    @property
    def age_hours(self) -> float:
        """The age at which the bounds are judged, hours."""
    @property
    def low(self) -> float:
        """Lower bound of the reliability at the age."""
    @property
    def high(self) -> float:
        """Upper bound of the reliability at the age."""
    @property
    def informative(self) -> bool:
        """Whether the bounds at the age are no wider than asked, chance left out; figures of a dial are judged with
        it."""
    @property
    def sentence(self) -> str:
        """What the bounds at the age say, in one sentence."""
    @overload
    def bounds_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper bound for the lamps of the records at an age, or at each of many.

        They hold whatever became of the lamps taken out, and know nothing of chance: see `outer_at`.

        Parameters
        ----------
        age : float or array-like
            Hours.

        Returns
        -------
        tuple of float, None or numpy.ndarray
            Reliability, (low, high), (n, 2) for many; None, or NaN in an array, where no lamp was under observation.

        Raises
        ------
        InputError
            For what is not a number.

        Examples
        --------
        >>> import relamp
        >>> why = ["dim", "burst", "running"]
        >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
        >>> low, high = relamp.removal_bounds(tally, suspects=["dim"], age_hours=250.0).bounds_at(150.0)
        >>> low, high
        (0.5, 1.0)
        """
    @overload
    def bounds_at(self, age: Column) -> _Array: ...
    @overload
    def outer_at(self, age: float) -> tuple[float, float] | None:
        """Lower and upper bound for lamps like these at an age, or at each of many: with what chance may add to each.

        They are the lower end of the band of the lower bound and the upper end of that of the upper one, at the level
        of the bounds.

        Parameters
        ----------
        age : float or array-like
            Hours.

        Returns
        -------
        tuple of float, None or numpy.ndarray
            Reliability, (low, high), (n, 2) for many; None, or NaN in an array, where no lamp was under observation.

        Raises
        ------
        InputError
            For what is not a number.

        Examples
        --------
        >>> import relamp
        >>> why = ["dim", "burst", "running"]
        >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
        >>> low, high = relamp.removal_bounds(tally, suspects=["dim"], age_hours=250.0).outer_at(250.0)
        >>> low < 0.4 and high > 0.9
        True
        """
    @overload
    def outer_at(self, age: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class RemovalDial:
    """The life of lamps that nobody takes out early, under each stated dependence; made by `removal_dial`.

    Examples
    --------
    >>> import relamp
    >>> low = [200.0 + 60.0 * i for i in range(40)]
    >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
    >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
    >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.0, 0.5, 0.8], replicates=20)
    >>> dial.taus, dial.table().columns
    ((0.0, 0.5, 0.8), ['tau', 'shape', 'scale', 'refits', 'unsettled'])
    """

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def taus(self) -> tuple[float, ...]:
        """Dependences that were fitted, Kendall's tau, rising from 0."""
    @property
    def suspects(self) -> tuple[str, ...]:
        """The endings named as suspect."""
    @property
    def suspect_lamps(self) -> int:
        """Lamps that ended so."""
    @property
    def endings(self) -> dict[str, float]:
        """Endings of the failures with their shares."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of a stable slug and a sentence."""
    def life(self, tau: float) -> Life:
        """The life at one of the dependences.

        Parameters
        ----------
        tau : float
            One of `taus`, at least 0 and below 1.

        Returns
        -------
        Life

        Raises
        ------
        InputError
            For a dependence that was not fitted.

        Examples
        --------
        >>> import relamp
        >>> low = [200.0 + 60.0 * i for i in range(40)]
        >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5], replicates=0)
        >>> dial.life(0.0).parameters == relamp.fit(tally).parameters
        True
        """
    def reliability(
        self,
        age: float,
        *,
        from_tau: float,
        to_tau: float,
        level: float = 0.95,
        widest: float = 0.25,
    ) -> DialAnswer:
        """The probability to pass an age at each dependence, and over a range of it.

        Parameters
        ----------
        age : float
            Hours.
        from_tau, to_tau : float
            Smallest and largest dependence held possible, at least 0, both among `taus`.
        level : float
            Level of the intervals, inside (0, 1).
        widest : float
            Widest interval over the range that still says something, as a share of lamps.

        Returns
        -------
        DialAnswer

        Raises
        ------
        InputError
            For what is not a number, and a range that was not fitted.
        DomainError
            For an age below 0 and a width out of range.

        Examples
        --------
        >>> import relamp
        >>> low = [200.0 + 60.0 * i for i in range(40)]
        >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=20)
        >>> answer = dial.reliability(1000.0, from_tau=0.5, to_tau=0.8)
        >>> answer.low < answer.least < answer.most < answer.high
        True
        """
    def b_life(
        self,
        percent: float,
        *,
        from_tau: float,
        to_tau: float,
        level: float = 0.95,
        widest: float = 2.0,
    ) -> DialAnswer:
        """The age by which a percentage has failed at each dependence, and over a range of it.

        Parameters
        ----------
        percent : float
            Above 0 and below 100; 10 asks for the B10 life.
        from_tau, to_tau : float
            Smallest and largest dependence held possible, at least 0, both among `taus`.
        level : float
            Level of the intervals, inside (0, 1).
        widest : float
            Largest ratio of the ends over the range that still says something, at least 1.

        Returns
        -------
        DialAnswer

        Raises
        ------
        InputError
            For what is not a number, and a range that was not fitted.
        DomainError
            For a percentage and a ratio out of range.
        RefusedError
            For an age that is never reached.

        Examples
        --------
        >>> import relamp
        >>> low = [200.0 + 60.0 * i for i in range(40)]
        >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=0)
        >>> answer = dial.b_life(10.0, from_tau=0.5, to_tau=0.8)
        >>> answer.low is None, answer.least == dial.life(0.8).b_life(10.0)
        (True, True)
        """
    def planned_age(
        self,
        costs: Costs,
        limit: HourLimit,
        *,
        from_tau: float,
        to_tau: float,
        level: float = 0.95,
        widest: float = 2.0,
        oldest_at_risk_hours: float | None = None,
        extrapolate_because: str | None = None,
        progress: Progress | None = None,
    ) -> DialAnswer:
        """The planned age at each dependence, and over a range of it: how wrong independence must be before the advice
        changes.

        The cost of a failure is that of the failures' endings in the shares in which they were seen.

        Parameters
        ----------
        costs : Costs
            Of a planned change, and of a change after each ending that failures have.
        limit : HourLimit
            No age in the answer passes it.
        from_tau, to_tau : float
            Smallest and largest dependence held possible, at least 0, both among `taus`.
        level : float
            Level of the intervals, inside (0, 1).
        widest : float
            Largest ratio of the ends over the range that still says something, at least 1.
        oldest_at_risk_hours : float, optional
            Where the records end, hours; without it the oldest lamp of the records.
        extrapolate_because : str, optional
            Why advice may pass the oldest lamp at risk (never the limit).
        progress : callable, optional
            Told `(done, total)` now and then, and at the end.

        Returns
        -------
        DialAnswer

        Raises
        ------
        InputError
            For what is not a number, a range that was not fitted, and costs that are missing.
        DomainError
            For a level and a ratio out of range.
        RefusedError
            For too few refits that gave an answer.

        Examples
        --------
        >>> import relamp
        >>> low = [200.0 + 60.0 * i for i in range(40)]
        >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=20)
        >>> limit = relamp.hour_limit(maximum_hours=4000.0, source="invented data sheet")
        >>> ages = dial.planned_age(relamp.costs(950.0, burst=5200.0), limit, from_tau=0.5, to_tau=0.8)
        >>> ages.estimate[0] > ages.most, ages.verdicts[0]
        (True, 'best_below_limit')
        """
    def turn(
        self,
        costs: Costs,
        limit: HourLimit,
        *,
        ordinary: PlannedAge | None = None,
        near_percent: float = 2.0,
        oldest_at_risk_hours: float | None = None,
        extrapolate_because: str | None = None,
    ) -> DialTurn:
        """The first dependence at which the planned age leaves the ages near the best of the ordinary fit: up to it the
        question of dependence changes nothing that matters.

        Between two fitted dependences the life is taken between theirs, and the turn is bracketed. The dial takes one
        life for all failures; where the ordinary fit has one for each cause, the sentence tells how the two differ.

        Parameters
        ----------
        costs : Costs
            Of a planned change, and of a change after each ending that failures have.
        limit : HourLimit
            No age in the answer passes it.
        ordinary : PlannedAge, optional
            The planned age of the ordinary fit, such as of a world by cause; None for that of the dial without
            dependence.
        near_percent : float
            Ages count as near the best up to this much more cost, percent; that of `ordinary` where it is given.
        oldest_at_risk_hours : float, optional
            Where the records end, hours; without it the oldest lamp of the records.
        extrapolate_because : str, optional
            Why advice may pass the oldest lamp at risk (never the limit).

        Returns
        -------
        DialTurn

        Raises
        ------
        InputError
            For what is not a number, and costs that are missing.

        Examples
        --------
        >>> import relamp
        >>> low = [200.0 + 60.0 * i for i in range(40)]
        >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.3, 0.6, 0.8], replicates=0)
        >>> limit = relamp.hour_limit(maximum_hours=4000.0, source="invented data sheet")
        >>> turn = dial.turn(relamp.costs(950.0, burst=5200.0), limit)
        >>> 0.0 < turn.tau < 0.8
        True
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ReplayedAge:
    """The history of a lamp class under another planned age; made by `replay_age`.

    Its table holds one row for each ending: how many of 1,000 lamps end so before the age, and how many were seen to;
    where at most two were, how many at most may (one-sided at 95 %) and what cost per hour that would make.
    """

    @property
    def planned_age_hours(self) -> float:
        """The rule, hours."""
    @property
    def cost_per_hour(self) -> float:
        """Cost per lamp hour under the rule."""
    @property
    def cost_interval(self) -> tuple[float, float]:
        """Its interval: (low, high)."""
    @property
    def happened_cost_per_hour(self) -> float:
        """Cost per lamp hour as it happened; lamps that still burn are not paid for yet."""
    @property
    def whole_lives_cost_per_hour(self) -> float | None:
        """Cost per lamp hour of whole lives as lamps were changed, which the rule is compared with; None where the
        rows hold no
        whole life.
        """
    @property
    def saving_per_hour(self) -> float:
        """Cost per hour of whole lives as lamps were changed, less that under the rule."""
    @property
    def saving_interval(self) -> tuple[float, float]:
        """Its interval: (low, high)."""
    @property
    def mean_age_at_change_hours(self) -> float:
        """Mean age at a change under the rule, hours."""
    @property
    def reached(self) -> int:
        """Lamps seen to reach the planned age."""
    @property
    def failed(self) -> int:
        """Lamps seen to fail before it."""
    @property
    def left(self) -> int:
        """Lamps that left before it without a failure, or still burn: what they would have done no row tells."""
    @property
    def rows_reach_hours(self) -> float:
        """The oldest age that rows tell of, hours."""
    @property
    def hours_from_model(self) -> float:
        """Hours of a mean lamp under the rule that rest on the model alone."""
    @property
    def sentence(self) -> str:
        """What was found, in words."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class SelfConsistent:
    """The likeliest curve for lives known to ages, to intervals or not at all; made by `self_consistent`."""

    @property
    def stretches(self) -> _Array:
        """Ends of the stretches with mass, hours, (stretches, 2); infinite where no lamp was seen to fail."""
    @property
    def mass(self) -> _Array:
        """Share of lamps that failed in each stretch, (stretches,)."""
    @property
    def reliability_after(self) -> _Array:
        """Probability to pass each stretch, (stretches,)."""
    @property
    def candidates(self) -> int:
        """Stretches that could have held mass."""
    @property
    def log_likelihood(self) -> float:
        """Log-likelihood at the estimate."""
    @property
    def gradient(self) -> float:
        """Largest derivative of the log-likelihood, for each lamp, towards mass in any stretch; 0 at the top."""
    @property
    def steps(self) -> int:
        """Steps of the climb."""
    @property
    def converged(self) -> bool:
        """Whether the gradient came down to what was asked."""
    @property
    def conditional_from(self) -> float:
        """The curve holds for lamps that reached this age, hours; 0 for a curve from new."""
    @property
    def lamps(self) -> int:
        """Lamps behind the curve."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What to know when reading the curve: pairs of rule and sentence."""
    @overload
    def reliability_bounds(self, ages: float) -> tuple[float, float] | None:
        """Lower and upper value of the probability to pass an age, or each of many."""
    @overload
    def reliability_bounds(self, ages: Column) -> _Array: ...
    @overload
    def quantile(self, p: float) -> tuple[float, float | None]:
        """The stretch in which a share of the lamps has failed, or each of many shares."""
    @overload
    def quantile(self, p: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ShapeCorrection:
    """A Weibull shape with its bias taken out; made by `Fit.corrected_shape`."""

    @property
    def shape(self) -> float:
        """Shape at the maximum of the likelihood."""
    @property
    def corrected(self) -> float:
        """Corrected shape: factor times it."""
    @property
    def factor(self) -> float:
        """Factor, below 1."""
    @property
    def factor_error(self) -> float:
        """Standard error of the factor, which is a mean over simulated samples."""
    @property
    def plan(self) -> str:
        """The censoring for which the factor holds: "complete" or "failure_censored"."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class ShelfAge:
    """How old lamps are when they are used, and what is lost on the shelf; made by `shelf_age`."""

    @property
    def mean_days(self) -> float | None:
        """Mean days on the shelf; None where nothing is needed."""
    @property
    def expired_chance(self) -> float | None:
        """Chance that a lamp lies longer than its shelf life before it is needed; None without one."""
    @property
    def expired_value_a_year(self) -> float | None:
        """Price of the lamps that expire, a year."""
    @property
    def warranty_over_chance(self) -> float | None:
        """Chance that the warranty has run out before a lamp is used; None without one."""
    @property
    def warranty_days_lost(self) -> float | None:
        """Mean days of warranty that are gone when a lamp is used."""
    @property
    def warranty_value_lost_a_year(self) -> float | None:
        """The same share of the price, a year."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class SiteAge:
    """The age of a lamp at which all lamps of its site are changed; made by `site_age`. No age in it passes the
    limit, nor
    the records unless a reason lets it.
    """

    @property
    def verdict(self) -> str:
        """Whether such changes pay: "together_pays" or "alone_pays"."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def age_hours(self) -> float:
        """The best age of the site: whole hours, rounded down, also where it does not pay."""
    @property
    def cost_per_hour(self) -> float:
        """Long-run cost per lamp hour at that age, visits and all."""
    @property
    def hours_between(self) -> float:
        """Mean hours from one change of all lamps to the next at that age."""
    @property
    def optimum_hours(self) -> float:
        """Age of least cost, before rounding, hours."""
    @property
    def alone_age_hours(self) -> float:
        """Best age of each lamp by itself, a visit for every change, hours."""
    @property
    def alone_cost_per_hour(self) -> float:
        """Cost per lamp hour of that."""
    @property
    def near_best(self) -> tuple[tuple[float, float], ...]:
        """Stretches of ages that cost at most 1 % more than the least: (from, to), hours, cut at the limit."""
    @property
    def near_best_ends(self) -> tuple[tuple[str, str], ...]:
        """What the two ends of each such stretch are: "exact" where the cost passes the bound, "at_limit" or
        "records_end"
        where the stretch is cut.
        """
    @property
    def minima(self) -> tuple[tuple[float, float], ...]:
        """Ages at which the cost stops falling, as (hours, cost per lamp hour)."""
    @property
    def ceiling_hours(self) -> float:
        """The age that no answer passes: the limit, or the oldest lamp at risk if earlier, hours."""
    @property
    def past_records(self) -> bool:
        """Whether the age lies past the oldest lamp at risk, where the model is an opinion."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class SiteCosts:
    """Long-run cost per lamp hour by the age at which all lamps of a site are changed; made by `site_costs`."""

    def __len__(self) -> int: ...
    @property
    def age_hours(self) -> _Array:
        """The ages, hours, (n,)."""
    @property
    def cost_per_hour(self) -> _Array:
        """Cost per lamp hour at each age, (n,)."""
    @property
    def hours_between(self) -> _Array:
        """Mean hours from one change of all lamps to the next at each age, (n,)."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Sockets:
    """Places that take lamp after lamp, each with the ages at which its lamp failed; made by `sockets` or `sockets_of`.

    Its table has one row for each socket.
    """

    def __len__(self) -> int: ...
    @property
    def failures(self) -> int:
        """Number of failures in all."""
    @property
    def exposure(self) -> float:
        """Hours, or days, under observation in all."""
    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups, ascending."""
    @property
    def names(self) -> tuple[str, ...]:
        """Names of the sockets, in the order given."""
    def of_group(self, group: str) -> Sockets:
        """The sockets of one group."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StockAdvice:
    """Spares to hold and to order for one lamp class; made by `stock_level`."""

    @property
    def verdict(self) -> str:
        """What the advice amounts to, one word."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def level(self) -> int:
        """Least stock that meets the target, lamps."""
    @property
    def order(self) -> int:
        """Lamps to order now."""
    @property
    def service_target(self) -> float:
        """Wanted chance of no shortage over the lead time."""
    @property
    def service_at_level(self) -> float:
        """Chance of no shortage at the level."""
    @property
    def service_today(self) -> float:
        """Chance of no shortage with what is on hand and on order."""
    @property
    def mean_needed(self) -> float:
        """Mean lamps needed over the lead time."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StockCosts:
    """What holding, ordering and doing without cost; made by `stock_costs`."""

    def price(self, quantity: int) -> float:
        """Price of a lamp in an order of so many.

        Parameters
        ----------
        quantity : int
            Lamps in the order.

        Returns
        -------
        float
            Price of each of them.

        Raises
        ------
        InputError
            For what is not a whole number of at least 0.

        Examples
        --------
        >>> import relamp
        >>> costs = relamp.stock_costs({1: 800.0, 12: 760.0})
        >>> costs.price(11), costs.price(12)
        (800.0, 760.0)
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StockCount:
    """What a stock count holds, and the ledger that accounts for every row; made by `stock_count`.

    Its table holds a class and place a row: lamps on hand and on order, the next due day, good used lamps.
    """

    @property
    def counted_on(self) -> date:
        """Day of the count."""
    @property
    def counts(self) -> dict[str, int]:
        """Rows in, and what became of them: rows = used + set_aside."""
    @property
    def warning(self) -> str:
        """What to know before using any figure: that many rows were set aside; empty where nothing is to be said."""
    def ledger(self) -> Table:
        """Every finding, in order of rows."""
    def orders(self) -> Table:
        """Orders, one row each."""
    def used_lamps(self) -> Table:
        """Good used lamps, one row each: emergency spares that keep their age."""
    def on_hand(self, lamp_class: str, /, *, place: str | None = None) -> int:
        """New lamps of a class on hand; 0 where class and place stand in the count, each elsewhere."""
    def on_order(self, lamp_class: str, /, *, due_by: date | str, place: str | None = None) -> int:
        """Lamps of a class on order that are due by a day; an order without a due day does not count."""
    def to_csv(self) -> str:
        """The stock list by class and place as text with commas between cells, safe to open in a spreadsheet."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StockMix:
    """The best mix of whole lamps over classes; made by `best_mix`.

    Its table holds a row for each class.
    """

    @property
    def cost(self) -> float:
        """What all lamps cost."""
    @property
    def shortfall(self) -> float:
        """The shortfall of all classes: screens waiting, or dark hours a year."""
    @property
    def best(self) -> bool:
        """Whether no other mix can be better; else so many were near that some were left out."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StockPlan:
    """The rule of least cost at one place, and what other stocks cost; made by `best_reorder` and
    `best_order_up_to`.
    """

    @property
    def sentence(self) -> str:
        """The rule in plain words."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What stands beside the numbers and could mislead without."""
    @property
    def service(self) -> StockService:
        """What the rule gives."""
    @property
    def stock_money(self) -> float:
        """Money in the lamps on the shelf, on the mean."""
    @property
    def total(self) -> float:
        """Cost of the rule a year: holding, ordering, doing without and lamps bought."""
    def by_quantity(self) -> Table:
        """The best base stock at every size of order that was looked at, or at every distance of level and order
        point.

        Returns
        -------
        Table
            The columns of `table`.

        Examples
        --------
        >>> import relamp
        >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
        >>> costs = relamp.stock_costs(800.0, money_rate=0.1, per_order=60.0, dark_day=400.0)
        >>> relamp.best_reorder(demand, costs).by_quantity().columns[:3]
        ['base_stock', 'quantity', 'order_up_to']
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StockService:
    """What a rule of ordering gives at one place on the long run; made by `stock_service`.

    Its table has one row. With X lamps needed over the lead time and y the position after ordering, no_screen_waiting
    is P(X <= y), fill_rate and ready_rate P(X <= y - 1), no_stock_out_per_cycle P(X <= order point). With reviews X
    covers a part of the review period too, and fill rate and the last differ: `definitions` says how, and stands in the
    summary.
    """

    @property
    def definitions(self) -> dict[str, str]:
        """What each number of service is, by name, as the same words mean other things elsewhere."""
    @property
    def order_point(self) -> int:
        """Position (on hand and on order less lamps waited for) at which one orders: one below the base stock."""
    @property
    def no_stock_out_per_cycle(self) -> float:
        """Chance that no screen waits for a lamp while one order is on its way: P(X <= order point), X needed over the
        lead time; with reviews P(X <= position), X needed over lead time and review period.
        """
    @property
    def no_screen_waiting(self) -> float:
        """Share of time in which no screen waits for a lamp: P(X <= position)."""
    @property
    def fill_rate(self) -> float:
        """Share of the lamps needed that are on the shelf when needed: P(X <= position - 1), exact where lamps are
        needed by chance one at a time; with reviews 1 - (added mean waiting over a review period) / (mean needed
        in it).
        """
    @property
    def ready_rate(self) -> float:
        """Share of time with at least one lamp on the shelf: P(X <= position - 1)."""
    @property
    def mean_waiting(self) -> float:
        """Mean number of screens that wait for a lamp at a moment."""
    @property
    def waiting_sd(self) -> float:
        """Standard deviation of that number."""
    @property
    def mean_on_hand(self) -> float:
        """Mean lamps on the shelf."""
    @property
    def mean_wait_days(self) -> float | None:
        """Mean days that a need waits, those met at once counted as 0; None where nothing is needed."""
    @property
    def orders_a_year(self) -> float:
        """Orders placed a year of 365.25 days."""
    @property
    def dark_shows_a_year(self) -> float | None:
        """Shows lost a year: mean waiting times hours played a year, over the hours of a show; None without a
        programme.
        """
    def order(self, *, on_hand: int, on_order: int = 0, waiting: int = 0) -> int:
        """Lamps to order now by the rule.

        Parameters
        ----------
        on_hand, on_order, waiting : int
            Lamps on the shelf, ordered and not yet there, and screens that wait for one; at least 0 each.

        Returns
        -------
        int
            Lamps.

        Raises
        ------
        InputError
            For what is not a whole number of at least 0.

        Examples
        --------
        >>> import relamp
        >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
        >>> service = relamp.stock_service(demand, base_stock=3, quantity=4)
        >>> service.order(on_hand=2, on_order=1), service.order(on_hand=2), service.order(on_hand=0, waiting=3)
        (0, 4, 8)
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Study:
    """A study ready to run: one file that declares logs, lamp classes, costs and limits.

    Its table holds the declared lamp classes. Saved and pickled, it keeps the text of the study file as opened, the
    path as given, and the options; never the logs, which are read beside that path when it runs.
    """

    @staticmethod
    def open(
        path: str | PathLike[str], *, outside_folder: bool = False, draws: int | None = None, family: str | None = None
    ) -> Study:
        """Opens a study file; everything that is wrong with it is reported at once, by line and key."""
    @property
    def name(self) -> str:
        """Name of the study."""
    @property
    def classes(self) -> tuple[str, ...]:
        """Names of its lamp classes, in the order declared."""
    @property
    def file(self) -> Path:
        """The study file."""
    @staticmethod
    def check_target(folder: str | PathLike[str], *, replace: bool = False) -> None:
        """Whether a run may write to a folder, asked before the work rather than after it."""
    def read(self, *, progress: Progress | None = None) -> Reading:
        """Reads the logs: spells, lives and the ledger that accounts for every row."""
    def doubts(self, reading: Reading) -> Table:
        """What the study file declares and is doubtful, as findings.

        Today these are programme hours or a stop of a site or a screen that no lamp stands in, printed warranty hours
        past the limit of use, a planned change that costs less than its lamp, and reasons that count as failures and
        look like planned changes: their rows heap at the hour limit or at today's planned age, no reason stands for a
        planned change, or a class has one cause alone.

        Parameters
        ----------
        reading : Reading
            What `read` gave.

        Returns
        -------
        Table
            With the columns of the ledger; empty where nothing is in doubt.

        Examples
        --------
        >>> import relamp
        >>> study = relamp.Study.open("data/demo/study.toml")
        >>> len(study.doubts(study.read()))
        0
        """
    def stock_findings(self, reading: Reading) -> Table:
        """What is doubtful in the stock count of the study, and what was set aside, as findings.

        Parameters
        ----------
        reading : Reading
            What `read` gave.

        Returns
        -------
        Table
            With the columns of the ledger; empty without a stock count.

        Raises
        ------
        InputError
            For depots whose sites no row names, and for a count that cannot be read.

        Examples
        --------
        >>> import relamp
        >>> study = relamp.Study.open("data/demo/study.toml")
        >>> study.stock_findings(study.read()).frame()["rule"].to_list()
        ['stock.place_unknown']
        """
    def lamps_today(self, reading: Reading) -> Table:
        """The lamps that burn on the as-of date with their ages that day, as every forecast of the study starts from
        them.

        Parameters
        ----------
        reading : Reading
            What `read` gave.

        Returns
        -------
        Table
            Class, site, screen, serial, `age_hours` (the last reading and the programme hours since; null where not
            known, which counts as due), programme hours a week, day of fitting new, and first and last day on which
            the screen may stop.

        Examples
        --------
        >>> import relamp
        >>> study = relamp.Study.open("data/demo/study.toml")
        >>> study.lamps_today(study.read()).columns[:5]
        ['lamp_class', 'site', 'screen', 'serial', 'age_hours']
        """
    def claims_set_aside(self, reading: Reading) -> Table:
        """Rows of the file of claims that the logs do not bear out, and that a run counts nowhere.

        Parameters
        ----------
        reading : Reading
            What `read` gave.

        Returns
        -------
        Table
            File, line, serial, amount paid and why; empty without such a file.

        Raises
        ------
        InputError
            For a file of claims that cannot be read.

        Examples
        --------
        >>> import relamp
        >>> study = relamp.Study.open("data/demo/study.toml")
        >>> len(study.claims_set_aside(study.read()))
        0
        """
    def ledger(self, reading: Reading) -> Table:
        """Every finding that a run would write to `ledger.csv`: those of the reading, and those of the study beyond it,
        such as readings too old to say anything of today.

        Parameters
        ----------
        reading : Reading
            What `read` gave.

        Returns
        -------
        Table
            File, row, line, column, value, rule, what became of the row, serial, and a sentence.

        Raises
        ------
        InputError
            For lives that no tally can hold.

        Examples
        --------
        >>> import relamp
        >>> study = relamp.Study.open("data/demo/study.toml")
        >>> reading = study.read()
        >>> len(study.ledger(reading)) >= len(reading.ledger())
        True
        """
    def run(self, *, progress: Progress | None = None) -> StudyOutput:
        """Runs the whole study: the same answers for the same files and options, for any number of threads."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StudyOutput:
    """The answers of a run with the evidence they rest on; made by `Study.run`."""

    @property
    def results(self) -> StudyResults:
        """The answers."""
    def ledger(self) -> Table:
        """Every finding, in order of file and line."""
    @property
    def inputs(self) -> tuple[tuple[str, int, str], ...]:
        """Files that went in: (file, size in bytes, SHA-256)."""
    def write(
        self, folder: str | PathLike[str], *, extra: Mapping[str, str | bytes] | None = None, replace: bool = False
    ) -> None:
        """Writes results, ledger, overdue lamps, lives, any extra files and a manifest to a folder, all or nothing."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class StudyResults:
    """The answers of one study, class by class. Read `overdue` first. `to_dict` holds every figure."""

    @property
    def classes(self) -> tuple[ClassResult, ...]:
        """One entry for each declared lamp class, in the order declared."""
    def overdue(self) -> Table:
        """Lamps at or past their limit, those whose age is not known, and those soon there, as in `overdue.csv`.

        The column `list` says which: "at or past the limit", "age not known: treat as due" or "reaches the limit soon".
        """
    @property
    def any_due(self) -> bool:
        """Whether any lamp is at or past its limit, or has to be treated so."""
    @property
    def claims(self) -> ClaimList | None:
        """Lamps for which a claim under their warranty is due, could be due or was filed, as in `claims.csv`; None
        where no class of the study has warranty terms.
        """
    @property
    def claims_ahead(self) -> dict[str, ClaimsAhead]:
        """Claims to expect in the next year, by lamp class; without the classes of which they are not known."""
    @property
    def declared_last_buys(self) -> dict[str, LastBuy]:
        """Last buys as declared, by lamp class; without the classes of which no quantity can be told. With costs the
        quantity is that of the costs, else that of the risk.
        """
    def last_buys(self) -> Table:
        """Last buys before a lamp type ends, as in `last_buys.csv`: a row for each programme of the screens that stop
        and each rule that sets a quantity.

        The programme is "declared", "no_stop", "late" or "earlier"; the rule "costs" or "risk".
        """
    def doubts(self) -> Table:
        """What the study file declares and is doubtful, as findings; they stand in the ledger too."""
    def purchase_plan(self) -> Table:
        """What to order now and in each coming month, class by class, as in `purchase_plan.csv`.

        Of each class the row `now` comes first, then a row for each month with the order for it.
        """
    def stock_list(self) -> Table:
        """What to hold where, what to send and what to buy, by class, depot and site, as in `stock_list.csv`."""
    def stock_findings(self) -> Table:
        """What is doubtful in the stock count of the study, and what was set aside, as findings."""
    @property
    def cautions(self) -> tuple[str, ...]:
        """Hazards and limits of use that belong beside every figure."""
    @property
    def assumptions(self) -> tuple[str, ...]:
        """What the figures take for granted."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Table:
    """A table of results. It speaks the Arrow stream protocol, so `polars.DataFrame(table)`, `pandas` (3 or later) and
    `pyarrow.table(table)` take it without a copy.

    Examples
    --------
    >>> import polars, relamp
    >>> table = relamp.lives([900.0, 900.0, 1200.0], [900.0, 900.0, None]).table()
    >>> polars.DataFrame(table)["count"].to_list()
    [2, 1]
    """

    @property
    def columns(self) -> list[str]:
        """Names of the columns in order."""
    def to_csv(self) -> str:
        """The table as text with commas between cells, safe to open in a spreadsheet: no text runs as a formula."""
    def __len__(self) -> int: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Tally:
    """Distinct rows of censored lives with whole counts, in canonical order; made by `lives` or `Reading.tally`.

    A failure at a known age has `low == high`; a right-censored row has an infinite `high`; a failure known to an
    interval lies in (low, high]. Ages are hours.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([900.0, 900.0, 1200.0], [900.0, 900.0, None])
    >>> tally.rows, tally.lamps, tally.failures
    (2, 3, 2)
    """

    @property
    def rows(self) -> int:
        """Number of distinct rows."""
    @property
    def lamps(self) -> int:
        """Number of lives, counts added up; lamps never watched, which a fit leaves out, count too."""
    @property
    def failures(self) -> int:
        """Number of failures, at a known age or known to an interval."""
    @property
    def exposure_hours(self) -> float:
        """Lamp hours under observation."""
    @property
    def oldest_at_risk(self) -> float | None:
        """The largest age at which a lamp was under observation, hours; None without lamps."""
    @property
    def oldest_failure(self) -> float | None:
        """The largest age by which a failure had happened, hours; None without failures."""
    @property
    def low(self) -> _Array:
        """Ages at failure, last ages seen working, or left ends of intervals, hours, (rows,)."""
    @property
    def high(self) -> _Array:
        """The same age, infinity, or the right end of the interval, hours, (rows,)."""
    @property
    def count(self) -> _Counts:
        """How many lives each row stands for, (rows,)."""
    @property
    def strata(self) -> tuple[str, ...]:
        """Names of the strata (lamp classes), in order."""
    @property
    def covariates(self) -> dict[str, str]:
        """Names of the covariates in order, each with "number" or "category"."""
    def stratum(self, name: str) -> Tally:
        """The rows of one stratum (lamp class)."""
    def for_endings(self, endings: Sequence[str]) -> Tally:
        """The view of some endings: rows that failed by another become right-censored."""
    def read_exact(self, step_hours: float) -> Tally:
        """The tally with every exact age read as a meter reading: the lamp failed in the step before it."""
    def with_shipped(self, *, upper: Column, count: Column) -> Tally:
        """Adds the lamps that a file of claims does not show: of those shipped, the ones that did not claim."""
    def merge(self, *parts: Tally) -> Tally:
        """This tally joined with others by adding whole counts: the same to the bit whatever the order."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Trend:
    """Tests for a trend in the rate of failures of sockets, each with what it takes for granted; made by `trend`.

    Its table has one row for each test: "centroid", "centroid_robust", "centroid_gaps", "logarithms", "longer_gaps".
    """

    @property
    def tests(self) -> dict[str, tuple[float, float]]:
        """Statistic and two-sided p value of each test, by name."""
    @property
    def failures(self) -> int:
        """Failures that count."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What to know when reading them."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class TwoClocks:
    """A life on two clocks, hours and strikes; made by `two_clocks`. Its table is the profile."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def hours_per_strike(self) -> float | None:
        """Hours that a strike is worth; None where the records do not settle it, or strikes alone explain them best."""
    @property
    def low(self) -> float:
        """Lower end of its interval; 0 where the range ends."""
    @property
    def high(self) -> float | None:
        """Upper end of its interval; None where strikes alone would do as well."""
    @property
    def level(self) -> float:
        """Level of the interval."""
    @property
    def identified(self) -> bool:
        """Whether the records say anything of the hours that a strike is worth."""
    @property
    def edge(self) -> str:
        """Where the likelihood is highest: "inside", "hours_alone" or "strikes_alone"."""
    @property
    def share(self) -> float:
        """Share of the wear that strikes do in a lamp at the mean rate."""
    @property
    def mean_rate(self) -> float:
        """Mean strikes for each hour over the lamps."""
    @property
    def parameters(self) -> dict[str, float]:
        """Parameters of the life of a lamp at the mean rate, in hours."""
    @property
    def p_value(self) -> float:
        """Chance of so large a rise of the likelihood if strikes wore nothing."""
    @property
    def log_likelihood(self) -> float:
        """Maximised log-likelihood, densities per hour."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of a stable slug and a sentence."""
    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
    def life(self, rate: float) -> Life:
        """The life, in hours, of a lamp that is struck so often for each hour.

        Parameters
        ----------
        rate : float
            Strikes for each hour.

        Returns
        -------
        Life

        Raises
        ------
        InputError
            For what is not a number.
        DomainError
            For a rate below 0.
        RefusedError
            Where the records do not settle what a strike is worth and the rate is not `mean_rate`.

        Examples
        --------
        >>> import relamp
        >>> rate = [0.1, 0.5] * 10
        >>> low = [(950.0 + 10.0 * (i // 2)) / (1.0 + 2.0 * r) for i, r in enumerate(rate)]
        >>> clocks = relamp.two_clocks(relamp.lives(low, covariates={"rate": rate}), strikes_per_hour="rate")
        >>> round(clocks.life(0.1).b_life(50.0) / clocks.life(0.5).b_life(50.0), 2)
        1.67
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class VisitAge:
    """The age from which to change lamps at visits; made by `best_visit_age`. No age in it passes the limit, nor the
    records unless a reason lets it.
    """

    @property
    def visit_age_hours(self) -> float:
        """The advice: whole hours, rounded down; the later age itself where visits are best left unused."""
    @property
    def optimum_hours(self) -> float:
        """The same before rounding, hours."""
    @property
    def cost(self) -> VisitCost:
        """What the advice costs."""
    @property
    def unused_cost_per_hour(self) -> float:
        """Cost per lamp hour where visits are not used."""
    @property
    def unused_age_hours(self) -> float | None:
        """The best age without visits, hours, at which that cost stands where both ages were searched; None where the
        later age was given.
        """
    @property
    def verdict(self) -> str:
        """Whether the use of visits pays: "visits_pay" or "no_visit_pays"."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    @property
    def ceiling_hours(self) -> float:
        """The age that no answer passes: the limit, or the oldest lamp at risk if earlier, hours."""
    @property
    def past_records(self) -> bool:
        """Whether the later age lies past the oldest lamp at risk, where the model is an opinion."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class VisitCost:
    """What changing at a visit from one age on, and without one at a later age, costs; made by `visit_rule_cost`."""

    @property
    def visit_age_hours(self) -> float:
        """Age from which a visit is used, hours."""
    @property
    def age_hours(self) -> float:
        """Age at which a lamp is changed without waiting for a visit, hours."""
    @property
    def cost_per_hour(self) -> float:
        """Cost per lamp hour."""
    @property
    def at_visit(self) -> float:
        """Share of lamps changed at a visit."""
    @property
    def at_age(self) -> float:
        """Share that reach the later age."""
    @property
    def failures(self) -> tuple[float, ...]:
        """Share that fail, by cause in the order of the world."""
    @property
    def mean_age_at_change_hours(self) -> float:
        """Mean age at change, hours."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Salvage:
    """What a good used lamp is worth when it is changed on plan; made by `salvage`.

    Its table holds the worth at age 0 and on both sides of the age from which there is none.
    """

    @property
    def worth_of_new(self) -> float:
        """What a lamp would bring that has hardly burned."""
    @property
    def gone_hours(self) -> float:
        """Age at which nothing is left, hours."""
    @property
    def least_hours_left(self) -> float:
        """Hours left up to which a lamp is worth nothing."""
    @property
    def end_hours(self) -> float:
        """Age from which a lamp is worth nothing, hours."""
    @overload
    def worth(self, age: float) -> float:
        """Worth of a lamp that is changed on plan at an age; 0 from the end on."""
    @overload
    def worth(self, age: Column) -> _Array:
        """Worth of a lamp that is changed on plan at an age; 0 from the end on."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Warranty:
    """Money back from the maker that depends on the age at failure; made by `warranty`.

    Its table holds the money back at age 0 and on both sides of each age at which it jumps or bends.
    """

    @property
    def form(self) -> str:
        """How the money back falls with age: "full", "pro_rata" or "stepped"."""
    @property
    def price(self) -> float:
        """Price of the lamp."""
    @property
    def hours(self) -> float:
        """Hours as printed."""
    @property
    def end_hours(self) -> float:
        """Age from which nothing comes back, hours."""
    @property
    def endings(self) -> tuple[str, ...]:
        """The endings that are covered."""
    @overload
    def credit(self, age: float) -> float:
        """Money back for a failure at an age; 0 from the end on."""
    @overload
    def credit(self, age: Column) -> _Array:
        """Money back for a failure at an age; 0 from the end on."""
    def within_calendar(self, *, days: float, hours_per_week: float) -> Warranty:
        """The same warranty where the calendar may end it before the hours do.

        Parameters
        ----------
        days : float
            Days from fitting after which nothing comes back, above 0.
        hours_per_week : float
            Hours that the screen burns in a week, above 0 and at most 168.

        Returns
        -------
        Warranty

        Raises
        ------
        InputError
            For what is not a number or out of range.

        Examples
        --------
        >>> import relamp
        >>> warranty = relamp.warranty(form="full", price=1000.0, hours=2000.0, endings=["burst"])
        >>> warranty.within_calendar(days=150.0, hours_per_week=56.0).end_hours
        1200.0
        """
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class RecordsValue:
    """What records of more hours would save by a better planned age; made by `records_value`. No age in it passes the
    limit.

    Its table holds a row for the new records and one for a life known for certain, which no records can pass.
    """

    @property
    def today_hours(self) -> float:
        """Age of least mean cost over the draws: today's choice, whole hours."""
    @property
    def today_cost_per_hour(self) -> float:
        """Mean cost per hour of today's choice over the draws."""
    @property
    def saving_per_hour(self) -> float:
        """Mean saving per lamp hour of choosing again with the new records."""
    @property
    def saving_error(self) -> float:
        """Standard error of the saving, from the draws and plays."""
    @property
    def most_per_hour(self) -> float:
        """The most that any records could save per lamp hour: a life known for certain."""
    @property
    def most_error(self) -> float:
        """Standard error of the most."""
    @property
    def hours_ahead(self) -> float:
        """Hours that all screens burn while the records are made."""
    @property
    def saving_in_as_many_hours(self) -> float:
        """The saving in as many hours as the records are made in: a year of them, unless told otherwise."""
    @property
    def failures_ahead(self) -> float:
        """Mean number of failures in the new records."""
    @property
    def rule_hours(self) -> float:
        """Age at which lamps are changed while the records are made, hours."""
    @property
    def later_hours(self) -> tuple[float, float]:
        """Ages chosen later, whole hours: the middle 90 %, as (low, high)."""
    @property
    def share_changed(self) -> float:
        """Share of the plays after which another age is chosen than today."""
    @property
    def effective_draws(self) -> float:
        """Draws that the weights of the new records leave in play: the median over the plays."""
    @property
    def sentence(self) -> str:
        """The same in plain words."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class WarrantyValue:
    """What a warranty is worth under a planned age; made by `warranty_value`."""

    @property
    def age_hours(self) -> float:
        """Planned age, hours."""
    @property
    def end_hours(self) -> float:
        """Age from which nothing comes back, hours."""
    @property
    def claim_probability(self) -> float:
        """Chance of a lamp to fail in a covered way before the planned age and the end."""
    @property
    def money_back_per_lamp(self) -> float:
        """Mean money back for each lamp."""
    @property
    def money_back_per_1000_hours(self) -> float:
        """Mean money back per 1,000 lamp hours."""
    @property
    def failures_in_a_row_mean(self) -> float:
        """Mean number of covered failures in a row before a lamp leaves the warranty otherwise."""
    @property
    def failures_in_a_row_variance(self) -> float:
        """Variance of that number."""
    @property
    def covered_hours(self) -> float:
        """Mean hours under warranty until then."""
    @property
    def failures_in_first_warranty(self) -> float | None:
        """Mean covered failures in a row in one warranty that replacements share; None for some lives of steps."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Watch:
    """Everything that is watched, with its alarms; made by `watch`.

    Its table holds one row for each chart. `months_to_alarm_twice` and `months_to_alarm_thrice` say after how many
    months an alarm comes, on average, where failures come twice or three times as often as expected from now on; they
    are null where no failure was expected in the last 12 months.
    """

    @property
    def bound(self) -> float:
        """The sum at which a chart raises an alarm."""
    @property
    def false_alarms_a_year(self) -> float:
        """False alarms in a year over all charts: the mean is at most this where the models hold."""
    @property
    def delays(self) -> tuple[tuple[float, float], ...]:
        """Pairs of how many times as often failures come, and failures expected until an alarm, on average."""
    @property
    def notes(self) -> tuple[str, ...]:
        """What to know when reading it."""
    def alarms(self) -> Table:
        """Every alarm, one row each, in order of what is watched, name and month."""
    def open_lamps(self) -> Table:
        """The lamps that burn of each name that raised an alarm, however long ago, but for the fleet."""
    def months(self) -> Table:
        """Every month of every chart: failures expected and seen, and the running sum at its end."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class WindowedLife:
    """How failures lie within the window in which they would have been seen; made by `within_window`."""

    @property
    def family(self) -> str:
        """Name of the family."""
    @property
    def upper_hours(self) -> float:
        """End of the window, hours."""
    @property
    def ages(self) -> _Array:
        """Ages asked for, hours, (n,)."""
    @property
    def shares(self) -> _Array:
        """Share of the failures by the end of the window that come by each age, (n,)."""
    @property
    def interval(self) -> _Array:
        """Lower and upper end of each share, (n, 2); NaN where there is none."""
    @property
    def level(self) -> float:
        """Level of the intervals."""
    @property
    def method(self) -> str:
        """How the intervals were made: "wald" or "profile_likelihood"."""
    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What a reader must know beside the numbers: pairs of slug and sentence."""
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class World:
    """One possible world for one lamp class: causes in series, each with its life, and the costs; made by `world`,
    `CauseFits.world`, `Draws.best` or `Draws.world`.

    Its table holds one row for each ending of each cause, with the parameters of its life.
    """

    @property
    def causes(self) -> tuple[list[tuple[str, float]], ...]:
        """The endings of each cause with their shares."""
    @property
    def costs(self) -> Costs:
        """The costs."""
    @overload
    def reliability(self, age: float) -> float:
        """Probability to pass the age, all causes acting."""
    @overload
    def reliability(self, age: Column) -> _Array: ...
    def summary(self) -> str:
        """The result as text, one entry a line."""
    def to_json(self) -> str:
        """The saved form: JSON with a format name and version."""
    def to_dict(self) -> dict[str, Any]:
        """What is saved, as plain dicts, lists, texts and numbers."""
    @classmethod
    def from_json(cls, text: str) -> Self:
        """Reads the saved form back, to equal bits, and checks it."""
    def save(self, path: str | PathLike[str]) -> None:
        """Writes the saved form to a file, all or nothing."""
    @classmethod
    def load(cls, path: str | PathLike[str]) -> Self:
        """Reads a saved file back, to equal bits, and checks it."""
    def table(self) -> Table:
        """The main table of the result."""
    def frame(self) -> polars.DataFrame:
        """The main table as a polars frame."""
    def __arrow_c_stream__(self, requested_schema: Any = None) -> CapsuleType: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def _repr_html_(self) -> str: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

def best_emergency(
    needed_a_day: float,
    costs: StockCosts,
    *,
    lead_time_days: float | Column,
    per_transfer: float,
    weights: Column | None = None,
) -> EmergencyPlan:
    """The base stock of least yearly cost where a lamp that is not on the shelf is borrowed or sent by courier and
    no screen waits.

    The share of transfers is a^s / s! over the sum of a^k / k! for k up to s; a: lamps needed a day times the
    mean lead time. Only that mean counts, whatever the distribution of the lead time.

    Parameters
    ----------
    needed_a_day : float
        Mean lamps needed a day, one at a time by chance, 0 to 1e6.
    costs : StockCosts
        What `stock_costs` gave; a lamp on the shelf must cost something.
    lead_time_days : float or array-like
        Days from placing an order to its arrival, 0 to 7,310.
    per_transfer : float
        What an emergency transfer costs beyond the price of the lamp.
    weights : array-like, optional
        How likely each lead time is; alike without it.

    Returns
    -------
    EmergencyPlan
        Its table holds every base stock: the cost curve.

    Raises
    ------
    InputError
        For what is not a number or out of range, and a lamp on the shelf that costs nothing.
    LimitError
        Where the best stock would pass 100,000 lamps.

    Examples
    --------
    >>> import relamp
    >>> costs = relamp.stock_costs(800.0, money_rate=0.1)
    >>> relamp.best_emergency(0.1, costs, lead_time_days=20.0, per_transfer=150.0).base_stock
    6
    """

def best_mix(curves: Sequence[ClassCurve], *, budget: float | None = None, shortfall: float | None = None) -> StockMix:
    """The lamps of each class with the least shortfall for some money, or the least money for a shortfall.

    Whole lamps, and the best of all mixes: the curves need not be convex.

    Parameters
    ----------
    curves : list of ClassCurve
        One for each class, all with the same measure.
    budget : float, optional
        Money that may be spent, cost at least 0. Either this or the shortfall.
    shortfall : float, optional
        Screens waiting or dark hours a year that may be left, at least 0.

    Returns
    -------
    StockMix

    Raises
    ------
    InputError
        For both goals or none, a goal below 0, no class, and classes with different measures.
    RefusedError
        Where the most lamps of all curves leave more than the shortfall.

    Examples
    --------
    >>> import relamp
    >>> curves = [
    ...     relamp.one_place_curve(relamp.Count.poisson(1.0), lamp="4 kW", unit_cost=5.0, most_lamps=9),
    ...     relamp.one_place_curve(relamp.Count.poisson(4.0), lamp="2 kW", unit_cost=1.0, most_lamps=9),
    ... ]
    >>> relamp.best_mix(curves, budget=10.0).frame()["lamps"].to_list()
    [1, 5]
    """

def best_order_up_to(
    demand: LeadDemand, costs: StockCosts, *, hours_per_week: float | None = None, show_hours: float | None = None
) -> StockPlan:
    """The order point and level of least yearly cost where the shelf is looked at once a period: each review that
    finds the position at or below the order point orders up to the level.

    Parameters
    ----------
    demand : LeadDemand
        What `lead_demand` gave with `review_days` above 0.
    costs : StockCosts
        What `stock_costs` gave, with one price; a lamp on the shelf must cost something.
    hours_per_week : float, optional
        Hours a screen plays a week, above 0 and at most 168, to count lost shows.
    show_hours : float, optional
        Hours that one show takes, above 0.

    Returns
    -------
    StockPlan
        Its table holds every order point with the level as far above it as the best: the cost curve.

    Raises
    ------
    InputError
        For a demand without reviews, several prices, lamps on the shelf that cost nothing, and lost shows with a
        cost but no programme.
    LimitError
        Where levels lie more than 20,000 lamps above the order point.

    Examples
    --------
    >>> import relamp
    >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0, review_days=7.0)
    >>> costs = relamp.stock_costs(800.0, money_rate=0.1, per_order=60.0, dark_day=400.0)
    >>> relamp.best_order_up_to(demand, costs).service.order_point >= 8
    True
    """

def best_reorder(
    demand: LeadDemand,
    costs: StockCosts,
    *,
    least_order: int = 1,
    box_of: int = 1,
    hours_per_week: float | None = None,
    show_hours: float | None = None,
) -> StockPlan:
    """The order point and quantity of least yearly cost at one place, among whole boxes and orders of at least some
    size.

    The cost is that of ordering, of lamps on the shelf, of screens that wait, and of lamps bought. Every size of
    order is searched that could cost less, and every price by itself, so the answer is the least.

    Parameters
    ----------
    demand : LeadDemand
        What `lead_demand` gave.
    costs : StockCosts
        What `stock_costs` gave; a lamp on the shelf must cost something.
    least_order : int
        Least lamps of an order, 1 or more.
    box_of : int
        Lamps in a box, 1 or more; orders are whole boxes.
    hours_per_week : float, optional
        Hours a screen plays a week, above 0 and at most 168, to count lost shows.
    show_hours : float, optional
        Hours that one show takes, above 0.

    Returns
    -------
    StockPlan
        Its table holds every base stock with the best quantity: the cost curve, and stock money against lost
        shows.

    Raises
    ------
    InputError
        For lamps on the shelf that cost nothing, lost shows with a cost but no programme, an order or a box of 0
        lamps.
    LimitError
        Where the best order would pass two million lamps.

    Examples
    --------
    >>> import relamp
    >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
    >>> costs = relamp.stock_costs(800.0, holding_a_year=80.0, dark_day=2.0)
    >>> relamp.best_reorder(demand, costs).sentence
    'hold 7 lamps on hand and on order; order each lamp when it is used'
    """

def best_visit_age(
    world: World,
    limit: HourLimit,
    *,
    age_hours: float | None = None,
    mean_hours_between_visits: float,
    visit_cost: float,
    evenly: bool = False,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
) -> VisitAge:
    """The age of least cost from which to change lamps at visits that happen anyway, beside a later age or with it.

    The cost is that of `visit_rule_cost`.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        An age past it is refused.
    age_hours : float, optional
        Age at which a lamp is changed without waiting for a visit, hours. Where the records end before it, lamps are
        changed there. Without it both ages are searched: the pair of least cost, beside the best age without visits.
    mean_hours_between_visits : float
        Mean burning hours from one visit to the next, above 0.
    visit_cost : float
        Cost of a visit made for one lamp alone, beside its change; 0 where the costs of a change hold it.
    evenly : bool
        Whether the visits come at equal distances, such as a round every month; by default at random.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit), in words.

    Returns
    -------
    VisitAge

    Raises
    ------
    InputError
        For visits without a distance, a cost that is none, an age of the records that is not above 0, and a blank
        reason.
    DomainError
        For an age that is not above 0.
    LimitError
        For an age past the limit.
    RefusedError
        For visits at equal distances that are thousands in a life or far rarer than a life.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1.0, burst=5.0))
    >>> limit = relamp.hour_limit(maximum_hours=9000.0, source="invented data sheet")
    >>> best = relamp.best_visit_age(world, limit, age_hours=9000.0, mean_hours_between_visits=500.0, visit_cost=0.0)
    >>> best.visit_age_hours
    268.0
    >>> best.cost.cost_per_hour < 0.75 * best.unused_cost_per_hour
    True

    Where no lamp of the records burned past 700 h, lamps are changed there at the latest.

    >>> held = relamp.best_visit_age(
    ...     world, limit, age_hours=9000.0, mean_hours_between_visits=500.0, visit_cost=0.0, oldest_at_risk_hours=700.0
    ... )
    >>> held.cost.age_hours
    700.0

    The same visits at equal distances: a lamp fitted at one is changed at the first or second after it.

    >>> evenly = relamp.best_visit_age(
    ...     world, limit, age_hours=9000.0, mean_hours_between_visits=500.0, visit_cost=0.0, evenly=True
    ... )
    >>> evenly.cost.cost_per_hour < best.cost.cost_per_hour
    True

    Both ages: where a visit for one lamp alone is dear, lamps wait longer for one.

    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> pair = relamp.best_visit_age(world, limit, mean_hours_between_visits=300.0, visit_cost=300.0)
    >>> pair.visit_age_hours < 400.0 < 600.0 < pair.cost.age_hours
    True
    """

def block_costs(world: World, limit: HourLimit, *, every_hours: Column, block_cost: float | None = None) -> BlockCosts:
    """Long-run cost per lamp hour at given intervals from one change of all lamps to the next, failures changed one by
    one.

    C(B) = [c_b + c_p P(B) + sum over causes of c N(B)] / B: c_b the cost of one lamp in a change of all, N(B) the
    mean failures and P(B) the mean changes alone at the limit in between. With one cause and no lamp at the limit
    that is [c_b + c_f M(B)] / B. A lamp that would reach the limit before the next change of all is changed alone
    then, at the cost of a planned change. Barlow and Proschan (1965), Mathematical Theory of Reliability, chapter
    4.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        No lamp passes it; intervals may.
    every_hours : array-like
        Intervals, burning hours of a screen, above 0.
    block_cost : float, optional
        Cost of one lamp in a change of all, its share of the visit in it; None for that of a planned change.

    Returns
    -------
    BlockCosts

    Raises
    ------
    InputError
        For what is not a number, NaN included, and a cost that is not above 0.
    DomainError
        For an interval that is not above 0.
    RefusedError
        For a life made of steps, or that reaches below age 0.
    LimitError
        For an interval beyond what can be solved.

    Examples
    --------
    At an even rate failures bring 5.2 an hour whatever the interval.

    >>> import relamp
    >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> relamp.block_costs(world, limit, every_hours=[500.0, 1000.0]).cost_per_hour.round(4).tolist()
    [7.1, 6.15]
    >>> relamp.block_costs(world, limit, every_hours=[500.0], block_cost=700.0).cost_per_hour.round(4).tolist()
    [6.6]
    """

def site_costs(
    world: World,
    limit: HourLimit,
    *,
    lamps: int,
    visit_cost: float,
    ages_hours: Column,
) -> SiteCosts:
    """Long-run cost per lamp hour of a site at given ages, all its lamps changed when one of them reaches the age.

    A failed lamp is changed by itself before, and its successor counts from 0. One visit serves a change of all, and
    each
    failure needs one. All screens of the site burn the same hours. One lamp is the rule of one age; with very many
    it is
    `block_costs` at an interval of the age. `play_fleet` plays the same rule out as "site_together".

    Parameters
    ----------
    world : World
        Causes with their lives, and costs without the visit.
    limit : HourLimit
        An age past it is refused.
    lamps : int
        Screens of the site, each with one lamp: 1 to 1,000.
    visit_cost : float
        Cost of a visit for a change, whatever the number of lamps changed, 0 or more.
    ages_hours : array-like
        Ages of the lamp that brings the change of all, hours.

    Returns
    -------
    SiteCosts

    Raises
    ------
    InputError
        For no lamp or more than 1,000, a cost that is none, no ages, and what is not a number, NaN included.
    DomainError
        For an age that is not above 0.
    RefusedError
        For a life made of steps, or that reaches below age 0.
    LimitError
        For ages past the limit, each by its row, and an age that next to no lamp reaches.

    Examples
    --------
    At an even rate failures and their visits bring 5.5 an hour, whatever is changed before.

    >>> import relamp
    >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> costs = relamp.site_costs(world, limit, lamps=4, visit_cost=300.0, ages_hours=[500.0, 1000.0])
    >>> costs.frame()["burst_cost_per_hour"].round(6).to_list()
    [5.5, 5.5]
    >>> bool(costs.hours_between[0] > 500.0)
    True
    """

def site_age(
    world: World,
    limit: HourLimit,
    *,
    lamps: int,
    visit_cost: float,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
) -> SiteAge:
    """The age of least long-run cost at which all lamps of a site are changed when one of them reaches it.

    The cost is that of `site_costs`. It is compared with each lamp changed by its own best age, a visit for every
    change.
    `block_interval` answers for changes of all lamps at a fixed interval, whatever their age.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs without the visit.
    limit : HourLimit
        No lamp passes it.
    lamps : int
        Screens of the site, each with one lamp: 1 to 1,000.
    visit_cost : float
        Cost of a visit for a change, whatever the number of lamps changed, 0 or more.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit), in words.

    Returns
    -------
    SiteAge

    Raises
    ------
    InputError
        For no lamp or more than 1,000, a cost or an age of the records that is none, and a blank reason.
    RefusedError
        For a best age below one hour, and a life made of steps or that reaches below age 0.

    Examples
    --------
    A journey of 500 for four lamps at once, or for each.

    >>> import relamp
    >>> life = relamp.life("weibull", shape=4.0, scale=2000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(700.0, burst=4000.0))
    >>> limit = relamp.hour_limit(maximum_hours=3000.0, source="invented data sheet")
    >>> best = relamp.site_age(world, limit, lamps=4, visit_cost=500.0)
    >>> best.verdict, best.cost_per_hour < best.alone_cost_per_hour
    ('together_pays', True)

    Where nothing is saved by coming once, each lamp by itself costs less. Where no lamp of the records burned past
    700 h,
    neither does the advice.

    >>> relamp.site_age(world, limit, lamps=4, visit_cost=0.0).verdict
    'alone_pays'
    >>> relamp.site_age(world, limit, lamps=4, visit_cost=500.0, oldest_at_risk_hours=700.0).age_hours
    700.0
    """

def block_interval(
    world: World,
    limit: HourLimit,
    *,
    block_cost: float | None = None,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
) -> BlockInterval:
    """The interval of least long-run cost for changes of all lamps together.

    Every dip of the cost up to 20 mean hours between changes is narrowed to the root of its slope, and compared
    with changing each lamp alone. The interval may lie past the limit: a lamp that would reach the limit before is
    changed alone then.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        No lamp passes it.
    block_cost : float, optional
        Cost of one lamp in a change of all, its share of the visit in it; None for that of a planned change.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit), in words.

    Returns
    -------
    BlockInterval

    Raises
    ------
    InputError
        For a cost or an age of the records that is not a number above 0, and a blank reason.
    RefusedError
        For a best interval below one hour, and a life made of steps or that reaches below age 0.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(500.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> best = relamp.block_interval(world, limit)
    >>> best.every_hours, best.verdict
    (376.0, 'blocks_pay')
    >>> relamp.block_interval(world, limit, block_cost=3000.0).every_hours is None
    True
    >>> relamp.block_interval(world, limit, oldest_at_risk_hours=900.0).ceiling_hours
    900.0
    """

def bootstrap(
    tally: Tally,
    *,
    family: str = "weibull",
    replicates: int = 1000,
    seed: int,
    stratum: str = "",
    endings: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> Bootstrap:
    """Refits many times with random weights Gamma(count, 1) on the rows; the rows of a cluster share theirs.

    Parameters
    ----------
    tally : Tally
        The records.
    family : str
        A name that `life` knows, such as "weibull", "exponential", "lognormal", "log_logistic" or "above_zero(normal)".
    replicates : int
        How many, 2 or more.
    seed : int
        0 to 2^64 - 1. Same seed, same replicates, for any number of threads.
    stratum : str
        Name under which weights are drawn, usually the lamp class.
    endings : list of str, optional
        Endings that count as failure; without it all failures count.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    Bootstrap

    Raises
    ------
    InputError
        For an unknown family or ending, and records that the family cannot have.
        Fewer than 2 replicates, or more than 10,000,000.
    RefusedError
        Where no maximum exists; the hint holds the best bound there is.

    Examples
    --------
    >>> import relamp
    >>> low = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
    >>> tally = relamp.lives(low, low[:10] + [None, None])
    >>> replicates = relamp.bootstrap(tally, replicates=200, seed=7)
    >>> interval = replicates.interval(b_life=10.0, level=0.9)
    >>> interval.low < interval.estimate < interval.high
    True
    """

def buy_steps(curves: Sequence[ClassCurve], *, budget: float) -> Table:
    """Buys where money does most, step by step, until the next step passes the budget.

    Parameters
    ----------
    curves : list of ClassCurve
        One for each class, all with the same measure.
    budget : float
        Money that may be spent, cost at least 0.

    Returns
    -------
    Table
        One row for each step: the class bought, its lamps after the step, money spent, shortfall of all classes, and
        the shortfall taken away for each unit of money.

    Raises
    ------
    InputError
        For a budget below 0 or missing, no class, and classes with different measures.

    Examples
    --------
    >>> import relamp
    >>> curves = [
    ...     relamp.one_place_curve(relamp.Count.poisson(1.0), lamp="4 kW", unit_cost=5.0, most_lamps=9),
    ...     relamp.one_place_curve(relamp.Count.poisson(4.0), lamp="2 kW", unit_cost=1.0, most_lamps=9),
    ... ]
    >>> relamp.buy_steps(curves, budget=11.0).frame()["lamp"].to_list()[-2:]
    ['2 kW', '4 kW']
    """

def capped_age(
    world: World,
    limit: HourLimit,
    *,
    show_hours: float,
    cause: str = "burst",
    most_before_age: float | None = None,
    most_in_show: float | None = None,
    level: float = 0.95,
    draws: Draws | None = None,
    draws_with_unknown: Draws | None = None,
    records: Tally | None = None,
    shape: float = 1.0,
    todays_rule_hours: float | None = None,
    near_percent: float = 2.0,
    least_saving_percent: float = 0.1,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | DarkMinutes | None = None,
    progress: Progress | None = None,
) -> CappedAge:
    """The age of least cost at which upper limits of the risk of a burst, or of another ending, meet caps.

    Both caps are judged by a one-sided upper limit: from draws of a model, its percentile over them, but not below the
    estimate raised as far as the number of failures that it rests on leaves their rate and the shape of their wear
    open: where failures are few that raises limits most at ages well below those to which lamps were watched; from
    records alone, the bound of a Poisson count at a stated shape of wear, 2.996 over the hours for no event at an even
    rate and 95 %. With records a second line counts endings for an unknown reason as well; with draws it needs
    `draws_with_unknown`, draws of records in which they are so counted. The advice meets the caps in both lines. Fewer
    hours, draws without an answer or reasons that were lost never relax a cap; that no age meets the caps with these
    records is an answer too. Where so few failures are seen that a cause is taken to strike evenly, limits at ages past
    those to which most lamps were watched are too low for an ending that wears steeply.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        No age in the answer passes it.
    cause : str
        The capped ending, a word of `ENDINGS`.
    most_before_age : float, optional
        Largest share of lamps that may end so before they are changed, above 0 and below 1.
    most_in_show : float, optional
        Largest chance of a lamp of the planned age to end so in its next show, above 0 and below 1.
    show_hours : float
        Length of a show, hours.
    level : float
        Level of the upper limits, 0.5 or more and below 1.
    draws : Draws, optional
        Possible worlds, as `CauseFits.draws` gives them; 20 or more. Either these or `records`.
    draws_with_unknown : Draws, optional
        The same with unknown endings counted as the capped one.
    records : Tally, optional
        Lives with their endings; advice stops at the oldest lamp at risk.
    shape : float
        With records: the shape of wear, stated and not fitted, above 0; 1 is an even rate.
    todays_rule_hours : float, optional
        The age at which lamps are changed today, hours, to compare with.
    near_percent : float
        Ages count as near the best up to this much more cost, percent.
    least_saving_percent : float
        Without caps, an earlier change than at the limit is advised only if it saves at least this much, percent.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit).
    objective : Discount or DarkMinutes, optional
        What the age is chosen by; None for the cost per hour.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    CappedAge

    Raises
    ------
    InputError
        For no cap, a cap or a length that is out of range, and unless either draws or records are given.
    RefusedError
        For draws that know no such ending, fewer than 20 of them, and lamps that are seen only if they fail.

    Examples
    --------
    A hundred lamps pulled at 1,500 h, none of which burst: -ln(0.99) / 2.996 x 150,000 h.

    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=2000.0)
    >>> world = relamp.world({"dim": life}, relamp.costs(950.0, dim=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> records = relamp.lives([1500.0], [None], ending=["planned"], count=[100])
    >>> capped = relamp.capped_age(world, limit, records=records, most_before_age=0.01, show_hours=2.2)
    >>> capped.age_hours, capped.verdict
    (503.0, 'caps_bind')
    """

def change_counts(
    life: Life, end_hours: float, *, planned_age_hours: float | None = None, first_age_hours: float = 0.0
) -> ChangeCounts:
    """The whole distribution of the number of changes of one screen by some burning hours, planned ones included.

    P(N(t) = 0) = R(t) and P(N(t) = n) = integral of P(N(t - s) = n - 1) dF(s) over (0, t), with F and R cut at the
    planned age. Every probability is a sum of positive terms, so that small ones keep their digits down to 1e-30.

    Parameters
    ----------
    life : Life
        The life of a lamp; several causes go in as one, such as `life("series(weibull, lognormal)", ...)`.
    end_hours : float
        Burning hours from the start, above 0; changes at that very hour count.
    planned_age_hours : float, optional
        Age at which a lamp is changed though it works, hours; without it every lamp runs to failure.
    first_age_hours : float
        Age of the first lamp at the start, hours: 0 for a new one. At or past the planned age it is changed at once.

    Returns
    -------
    ChangeCounts

    Raises
    ------
    InputError
        For what is not a number, NaN included.
    DomainError
        For hours or a planned age that are not above 0 and finite, and a first age below 0 or that no lamp reaches.
    RefusedError
        For a life with failures before age 0, or that fails by jumps and between them.
    LimitError
        For more than 2,000 changes, or where counting them would take too long.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=1500.0)
    >>> counts = relamp.change_counts(life, 5000.0)
    >>> counts.quantile(0.95)
    5
    >>> relamp.change_counts(life, 5000.0, planned_age_hours=1000.0).first
    5
    >>> relamp.change_counts(life, 5000.0, planned_age_hours=1000.0, first_age_hours=600.0).first
    5
    """

def claim_list(
    lamps: Reading | TableLike,
    terms: ClaimTerms | Mapping[str, ClaimTerms],
    *,
    as_of: date | str,
    papers: TableLike | None = None,
    columns: Mapping[str, str] | None = None,
) -> ClaimList:
    """Judges lamps that ended under the terms of their warranty, and ranks the claims worth filing.

    What is due for a lamp times the chance that a claim is accepted, less the cost of the claim, is its gain; a
    claim is worth filing if that is above 0 and the deadline has not passed. Where nothing is due the reason is
    told: expired by hours, calendar or strikes, an ending that the warranty does not cover, a change on plan, or a
    figure that is not known.

    Parameters
    ----------
    lamps : Reading or table
        Logs as read by `read_logs` or `read_table`, of which every lamp that ended counts; or a table with the
        columns `serial`, `ending`, `age_hours`, and any of `lamp_class`, `site`, `screen`, `strikes`, `fitted_on`,
        `delivered_on`, `ended_on`, `evidence` (words with semicolons between), `filed_on` and `paid` (0: turned
        down). What is missing is not known.
    terms : ClaimTerms, or dict of str to ClaimTerms
        Terms for all lamps, or by lamp class; nothing is due for a class without.
    as_of : date or str
        The day of the list.
    papers : table, optional
        What the office knows beside the logs, by `serial`: any of `delivered_on`, `evidence`, `filed_on`, `paid`.
    columns : dict of str to str, optional
        The names of the columns in the table of lamps, where they differ from ours.

    Returns
    -------
    ClaimList

    Raises
    ------
    InputError
        With every bad row at once: row, column, value and what was expected.

    Examples
    --------
    >>> import relamp
    >>> warranty = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
    >>> terms = relamp.claim_terms(relamp.cover(warranty), needed=["photo"], chance=0.8, handling_cost=100.0)
    >>> lamps = {"serial": ["A1", "A2"], "ending": ["burst", "planned"], "age_hours": [500.0, 1900.0]}
    >>> claims = relamp.claim_list(lamps, terms, as_of="2026-01-31")
    >>> claims.frame().select("standing", "due", "gain", "missing", "why_nothing").rows()
    [('file', 750.0, 500.0, 'photo', ''), ('nothing', 0.0, 0.0, '', 'planned')]
    >>> claims.totals["recoverable"]
    750.0
    """

def claim_terms(
    cover: Cover,
    /,
    *,
    needed: Sequence[str] = ...,
    chance: float = 1.0,
    handling_cost: float = 0.0,
    days_to_file: int | None = None,
) -> ClaimTerms:
    """How claims for the lamps of one class go.

    Parameters
    ----------
    cover : Cover
        The warranty.
    needed : list of str
        What a claim needs. "serial", "age_hours", "strikes", "fitted_on", "delivered_on" and "ended_on" are looked
        up among the figures of a lamp, any other word among its evidence.
    chance : float
        Chance that a complete claim is accepted, 0 to 1.
    handling_cost : float
        Cost of one claim, in the currency of the price, 0 or more: hours of work, freight, packing.
    days_to_file : int, optional
        Days after the ending within which to file, 1 to 3,653; without it there is no deadline.

    Returns
    -------
    ClaimTerms

    Raises
    ------
    InputError
        For what is not a number or out of range, and words that are blank or stand twice; all at once.

    Examples
    --------
    >>> import relamp
    >>> warranty = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
    >>> terms = relamp.claim_terms(
    ...     relamp.cover(warranty), needed=["serial", "photo"], chance=0.8, handling_cost=60.0, days_to_file=30
    ... )
    >>> terms.needed
    ('serial', 'photo')
    """

def claims_ahead(
    model: World | Draws,
    age_hours: Column,
    *,
    hours_per_week: float | Column,
    cover: Cover,
    planned_age_hours: float,
    limit: HourLimit,
    as_of: date | str,
    days: float = 365.25,
    fitted_on: Column | None = None,
    delivered_on: Column | None = None,
    stop: Sequence[Any] | None = None,
    progress: Progress | None = None,
) -> ClaimsAhead:
    """Claims to expect from the lamps that burn today, if they are changed at the planned age or at failure.

    A lamp is covered until its hours, its calendar, the planned age or the days are over or its screen stops, whichever
    comes first. The number of claims is that of the lamps that burn today; lamps that are fitted within the days bring
    claims too, whose means stand beside, every change of a screen counted. Every claim is taken as filed and accepted;
    strikes are not forecast.

    Parameters
    ----------
    model : World or Draws
        With draws, lamps are independent within a draw and the distributions are mixed over draws.
    age_hours : array-like
        Ages of the lamps that burn today, hours; a missing one (None, null) is not known, and the lamp is left out
        and told.
    hours_per_week : float or array-like
        Programme hours of the screens, 0 to 168.
    cover : Cover
        The warranty.
    planned_age_hours : float
        Age of the planned change, hours, above 0; held to the limit.
    limit : HourLimit
        The age that no lamp may pass.
    as_of : date or str
        Today.
    days : float
        Days to look ahead, above 0 and at most 7,310; a year by default.
    fitted_on, delivered_on : array-like of dates or str, optional
        Days of fitting and of delivery, of which a warranty with months needs one; None where not known.
    stop : list, optional
        For each lamp when its screen stops, as for `chain_forecast`.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    ClaimsAhead

    Raises
    ------
    InputError
        For what is neither a world nor draws, ages, hours or days that are none or out of range; all rows at once.
    RefusedError
        Where one screen would need hundreds of lamps.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("exponential", scale=5000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> warranty = relamp.warranty(form="full", price=780.0, hours=1000.0, endings=["burst"])
    >>> ahead = relamp.claims_ahead(
    ...     world, [500.0, 1500.0], hours_per_week=70.0, cover=relamp.cover(warranty), planned_age_hours=1800.0,
    ...     limit=limit, as_of="2026-01-01",
    ... )
    >>> ahead.under_cover, round(ahead.mean_money, 2)
    (1, 74.23)
    """

def class_curve(
    places: Places,
    *,
    lamp: str,
    unit_cost: float,
    most_lamps: int,
    measure: str = "screens_waiting",
    method: str | None = None,
) -> ClassCurve:
    """What each number of lamps of a class leads to when depot and sites share them best.

    For each depot stock the lamps left go to the sites one by one, each where it takes away most; all depot stocks are
    tried, since waiting screens are not convex in them.

    Parameters
    ----------
    places : Places
        The sites and their lead times.
    lamp : str
        Name of the lamp class.
    unit_cost : float
        Price of a lamp, above 0.
    most_lamps : int
        Lamps up to which the curve goes, at most 1,000.
    measure : str
        What the shortfall counts: `screens_waiting`, or `dark_hours` a year.
    method : str, optional
        As for `place_service`.

    Returns
    -------
    ClassCurve

    Raises
    ------
    InputError
        For a price that is not above 0, more than 1,000 lamps, and another measure or method.
    RefusedError
        As for `place_service`.

    Examples
    --------
    >>> import relamp
    >>> places = relamp.places(["north", "south"], [0.05, 0.05], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
    >>> curve = relamp.class_curve(places, lamp="2 kW", unit_cost=700.0, most_lamps=6)
    >>> curve.frame()["depot"].to_list()
    [0, 1, 2, 3, 2, 3, 4]
    """

def compare_ages(
    draws: Draws,
    limit: HourLimit,
    *,
    age_hours: float,
    other_age_hours: float,
    level: float = 0.95,
    parts: CostParts | None = None,
    seed: int = 0,
    objective: Discount | DarkMinutes | None = None,
    progress: Progress | None = None,
) -> AgeComparison:
    """How likely one planned age costs less than another, given what is not known of lives and, with parts, of costs.

    Parameters
    ----------
    draws : Draws
        Possible worlds, as `CauseFits.draws` gives them; 20 or more.
    limit : HourLimit
        An age past it is refused.
    age_hours : float
        The first age, hours.
    other_age_hours : float
        The second age, hours.
    level : float
        Level of the interval of the difference, above 0 and below 1.
    parts : CostParts, optional
        Ranges of costs; each draw takes costs of its own from them in place of those of the draws.
    seed : int
        Seed of the drawn costs, from 0.
    objective : Discount or DarkMinutes, optional
        What is compared; None for the cost per hour.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    AgeComparison

    Raises
    ------
    InputError
        For what is not a number.
    DomainError
        For an age that is not above 0, and a level that is not inside 0 to 1.
    LimitError
        For an age past the limit.
    RefusedError
        For fewer than 20 draws, or too few that gave an answer.

    Examples
    --------
    >>> import relamp
    >>> ages = [100.0 + 7.0 * i for i in range(60)]
    >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
    >>> draws = relamp.fit_causes(tally).draws(tally, relamp.costs(950.0, burst=5200.0, dim=1250.0), n=40, seed=1)
    >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
    >>> compared = relamp.compare_ages(draws, limit, age_hours=200.0, other_age_hours=450.0)
    >>> round(compared.first_costs_less + compared.second_costs_less, 9)
    1.0
    >>> dark = relamp.dark_minutes(45.0, burst=360.0, dim=90.0)
    >>> parts = relamp.cost_parts(
    ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark
    ... )
    >>> wider = relamp.compare_ages(draws, limit, age_hours=200.0, other_age_hours=450.0, parts=parts, seed=1)
    >>> 0.0 <= wider.first_costs_less <= 1.0
    True
    """

def compare_fits(tally: Tally, *, fits: Sequence[Fit], endings: Sequence[str] | None = None) -> InformationTable:
    """Puts fits of the same records side by side by information criteria.

    AIC = 2 k - 2 ln L, AICc = AIC + 2 k (k + 1) / (d - k - 1), BIC = k ln d - 2 ln L, with k parameters and d failures.
    The log-likelihood of each fit is computed again from the tally: a fit of other records is refused.

    The smallest AIC comes first, with one exception: a second kind of lamps, a share that never fails and a hazard
    that grows stand behind the others where the simpler family is among the fits and is enough by the test that holds
    there, as AIC charges too little for these. Column `simpler` names it, `simpler_chance` gives the chance (5 % or
    more), a note says so.

    Parameters
    ----------
    tally : Tally
        The records behind every fit.
    fits : list of Fit
        One or more, of any family.
    endings : list of str, optional
        The ones that were fitted.

    Returns
    -------
    InformationTable

    Raises
    ------
    InputError
        For a fit of other records, an unknown ending, no fit at all, and what is no fit.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> fits = [relamp.fit(tally, family=name) for name in ("exponential", "weibull", "lognormal")]
    >>> table = relamp.compare_fits(tally, fits=fits)
    >>> table.frame()["family"].to_list()[-1]
    'exponential'
    >>> "exponential: log-likelihood -73.81, 1 parameter, AIC 149.62" in table.summary()
    True
    """

def compare_last_buys(buys: Mapping[str, LastBuy]) -> Table:
    """Last buys side by side, the first one the base of what the others save.

    Parameters
    ----------
    buys : dict
        `LastBuy` by a name of the scenario.

    Returns
    -------
    Table
        One row for each: lamps to buy and held, mean needed, chance of a shortage, mean lamps short and left, cost, and
        the lamps held less than in the first.

    Raises
    ------
    InputError
        For no scenario, or what is no `LastBuy`.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
    >>> def buy(day):
    ...     return relamp.last_buy(
    ...         world, [500.0, 800.0], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
    ...         convert_days=[day, day], risk=0.05,
    ...     )
    >>> table = relamp.compare_last_buys({"as planned": buy(700.0), "a year earlier": buy(335.0)})
    >>> table.frame()["lamps_saved"].to_list()
    [0.0, 7.0]
    """

def compare_pair(
    tally: Tally,
    *,
    by: str,
    group: str,
    other: str,
    family: str = "weibull",
    adjust: Sequence[str] | None = None,
    references: Mapping[str, str] | None = None,
    laws: Mapping[str, Mapping[str, str | float]] | None = None,
    value_is: Mapping[str, str] | None = None,
    covariates: Mapping[str, str | float] | None = None,
    level: float = 0.95,
    replicates: int = 400,
    seed: int,
    endings: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> PairFit:
    """Compares two groups of lamps at equal age and at equal covariates: ratio of lives, ratio of hazards.

    The ratio of lives comes from accelerated lives with a profile interval, that of hazards from proportional hazards,
    robust
    where lives have clusters; both over the category and the terms to adjust for, and over the lamps of the two groups
    only.
    Where lives have clusters, the ratio of lives and `p_value` rest on the spread of the refits with Student's t, and
    below 40
    clusters a note says that intervals are too short. Few failures for each coefficient give a `WeakDataWarning`.

    Parameters
    ----------
    tally : Tally
        The records, with covariates.
    by : str
        The category, such as "supplier".
    group, other : str
        Two levels of the category; ratios are `group` over `other`.
    family : str
        As in `fit_covariates`, of ages above 0.
    adjust : list of str, optional
        Terms to adjust for, as in `fit_covariates`, without the category itself.
    references, laws, value_is
        As in `fit_covariates`.
    covariates : dict of str to str or float, optional
        The lamp that is compared, beside the category; what is not named stands at the baseline of the terms. A value
        outside the range of the lamps gives a `WeakDataWarning`, and a note to the costs.
    level : float
        Level of the intervals, inside 0 to 1.
    replicates : int
        Refits under random weights behind costs, 100 to 100,000.
    seed : int
        Seed of the weights.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    PairFit

    Raises
    ------
    InputError
        For an unknown category or level, and as in `fit_covariates`.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        As in `fit_covariates`: a group without failures is told with the bound that holds; for a group whose lamps
        belong to
        a single cluster, or fewer than two more clusters than coefficients.

    Examples
    --------
    >>> import relamp
    >>> supplier = ["north", "south"] * 30
    >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"supplier": supplier})
    >>> pair = relamp.compare_pair(tally, by="supplier", group="north", other="south", replicates=100, seed=1)
    >>> ratio, low, high = pair.life_ratio
    >>> low < 1.0 < high
    True
    """

def compare_pair_costs(
    pair: PairFit,
    *,
    costs: Costs,
    other_costs: Costs,
    limit: HourLimit,
    other_limit: HourLimit,
    common_age_hours: float | None = None,
    worth_per_1000_hours: float | None = None,
    power: float = 0.8,
    progress: Progress | None = None,
) -> PairCost:
    """Compares what two groups of lamps cost per burning hour, prices and failures in, and says in words what it comes
    to.

    Ages stand still while lives and shares of endings are redrawn together; the interval holds the middle of the
    redraws. An ending that only one group has seen can come in the redraws of the other, as far as it has a cost there.
    Where nothing differed, one of the two was called cheaper in 4 to 8 of 100 samples at a level of 95 %, with 2 to 90
    failures a group. Without a common age each group stands at its own, and where one stops with its records the
    sentence says that part of the difference is one of ages.

    Where it holds both 0 and a difference that matters, the answer is "not enough yet" with the failures and lamps
    that would
    show such a difference with the chance `power`, in a test of two sides at the level of the intervals. Where lamps
    have
    clusters and a group has fewer than 5, the answer is "not enough yet" with the clusters that are lacking.

    Parameters
    ----------
    pair : PairFit
        The groups, as `compare_pair` gives them.
    costs, other_costs : Costs
        Costs of the first and of the second group, price of the lamp included.
    limit, other_limit : HourLimit
        Their hour limits; no age passes them.
    common_age_hours : float, optional
        Compares both at this age. Without it each stands at the planned age that its own records and limit allow.
    worth_per_1000_hours : float, optional
        Difference that would matter; without it 5 % of the lower cost.
    power : float
        Chance with which the lamps asked for would show such a difference, 0.5 or more and below 1.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    PairCost

    Raises
    ------
    InputError
        For an ending of a failure without a cost, and what is no number.
    DomainError
        For a power or a difference out of range.
    RefusedError
        Where no age has a finite cost.
    LimitError
        For a common age past a limit.

    Examples
    --------
    >>> import relamp
    >>> supplier, age = ["north", "south"] * 30, [1000 + 10 * i for i in range(60)]
    >>> tally = relamp.lives(age, ending=["dim"] * 60, covariates={"supplier": supplier})
    >>> pair = relamp.compare_pair(tally, by="supplier", group="north", other="south", replicates=100, seed=1)
    >>> cheap, dear = relamp.costs(500.0, dim=900.0), relamp.costs(1000.0, dim=1400.0)
    >>> limit = relamp.hour_limit(maximum_hours=1500.0, source="invented data sheet")
    >>> given = {"costs": cheap, "other_costs": dear, "limit": limit, "other_limit": limit}
    >>> relamp.compare_pair_costs(pair, **given, common_age_hours=1200.0).verdict
    'first_cheaper'
    """

def convert_earlier(
    convert_days: Sequence[_Conversion],
    earlier: Mapping[int, float],
) -> list[list[tuple[float, float]]]:
    """Days of conversion with some screens converted earlier, in the form that `last_buy` takes.

    Parameters
    ----------
    convert_days : list
        Days of conversion as for `last_buy`.
    earlier : dict
        New day, in days from today, by the place of the screen in the list, from 0. A day that was sooner stays.

    Returns
    -------
    list
        Pairs of a day and its chance for each screen.

    Raises
    ------
    InputError
        For a screen that is not in the list, and a day before today.

    Examples
    --------
    >>> import relamp
    >>> relamp.convert_earlier([[(50.0, 0.4), (500.0, 0.6)], None], {0: 100.0})
    [[(50.0, 0.4), (100.0, 0.6)], []]
    """

def cost_bars(
    world: World,
    limit: HourLimit,
    *,
    factor: float = 1.25,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | DarkMinutes | None = None,
) -> CostBars:
    """How far the planned age moves when each cost, and each of what else is set, by itself is divided and multiplied
    by a factor.

    What else is set: the price of a warranty, the worth of a used lamp, the discount rate, and the hour limit, which is
    divided only, as no advice passes it. Under dark minutes the minutes have bars in place of the costs.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        No age in the answer passes it.
    factor : float
        Each cost is divided and multiplied by it; above 1, which alone is above 0 and no change.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit).
    objective : Discount or DarkMinutes, optional
        What is counted per hour; None for the cost.

    Returns
    -------
    CostBars
        For each the age at both ends, and what keeping the unmoved age would cost more there, percent.

    Raises
    ------
    InputError
        For a factor that is not finite and above 1, and costs or minutes that leave their range.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=3000.0))
    >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
    >>> bars = relamp.cost_bars(world, limit, factor=1.5)
    >>> bars.planned.age_hours, sorted(set(bars.frame()["cost"]))
    (7379.0, ['burst', 'every failure', 'hour limit', 'planned'])
    """

def cost_curve(
    world: World,
    limit: HourLimit,
    *,
    ages_hours: Column | None = None,
    objective: Discount | DarkMinutes | None = None,
) -> CostCurve:
    """Long-run cost per lamp hour at each of the given planned ages, and what each cause brings.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        An age past it is refused.
    ages_hours : array-like, optional
        Planned ages, hours; without it 200 even steps up to the limit.
    objective : Discount or DarkMinutes, optional
        What is counted per hour; None for the cost.

    Returns
    -------
    CostCurve

    Raises
    ------
    InputError
        For no ages, and ages that are not numbers.
    DomainError
        For an age that is not above 0.
    LimitError
        For ages past the limit, each by its row.

    Examples
    --------
    >>> import relamp
    >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(1.0, burst=1.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> len(relamp.cost_curve(world, limit)), len(relamp.cost_curve(world, limit, ages_hours=[500.0, 900.0]))
    (200, 2)

    At an even rate the minutes of failures come once in 1,000 h, whatever the planned age.

    >>> dark = relamp.dark_minutes(30.0, burst=240.0)
    >>> curve = relamp.cost_curve(world, limit, ages_hours=[500.0, 2000.0], objective=dark)
    >>> curve.frame()["burst_cost_per_hour"].round(6).to_list()
    [0.24, 0.24]
    """

def cost_parts(
    *,
    lamp: float | tuple[float, float],
    labour: float | tuple[float, float],
    visit: float | tuple[float, float],
    visit_share: float | tuple[float, float],
    dark_minute: float | tuple[float, float],
    dark: DarkMinutes,
    damage: dict[str, float] | dict[str, tuple[float, float]] | dict[str, float | tuple[float, float]] | None = None,
    warranty: Warranty | None = None,
    salvage: Salvage | None = None,
    salvage_worth: float | tuple[float, float] | None = None,
    warranty_price: float | tuple[float, float] | None = None,
    dark_minutes: dict[str, float]
    | dict[str, tuple[float, float]]
    | dict[str, float | tuple[float, float]]
    | None = None,
    discount: Discount | tuple[Discount, Discount] | None = None,
) -> CostParts:
    """What a change costs, made of its parts, each a number or a range (low, high).

    A planned change costs lamp, labour, its share of a visit and its dark minutes; a change after a failure costs lamp,
    labour, a whole visit, its dark minutes and its damage. A part is one amount for all changes: where the lamp is
    dear, it is so for all. Between two ends all values are held equally likely, which is our choice.

    Parameters
    ----------
    lamp : float or (float, float)
        Price of a new lamp, in the currency of all costs.
    labour : float or (float, float)
        Cost of the work of one change.
    visit : float or (float, float)
        Cost of a visit.
    visit_share : float or (float, float)
        Share of it, 0 to 1, that a planned change bears.
    dark_minute : float or (float, float)
        Cost of one dark minute.
    dark : DarkMinutes
        Minutes of each change, which name the endings.
    damage : dict of str to float or (float, float), optional
        What else comes with an ending: a reflector, refunds.
    warranty : Warranty, optional
        Money back for early failures.
    salvage : Salvage, optional
        Worth of a lamp that is changed on plan.
    salvage_worth : float or (float, float), optional
        Worth of one that has hardly burned, in place of that of `salvage`, which gives the hours; a part like the
        others.
    warranty_price : float or (float, float), optional
        Price that the warranty pays back, in place of that of `warranty`, whose hours it takes; a part like the others.
    dark_minutes : dict of str to float or (float, float), optional
        Minutes of a change known to a range, in place of those of `dark`: of endings, and under "planned" of a planned
        change; parts like the others.
    discount : Discount or (Discount, Discount), optional
        Rate in place of that of `objective=relamp.discount(...)`, drawn like the others and evenly by its hourly rate.

    Returns
    -------
    CostParts

    Raises
    ------
    InputError
        For what is no amount or no range, each by its name.

    Examples
    --------
    >>> import relamp
    >>> dark = relamp.dark_minutes(45.0, burst=360.0)
    >>> parts = relamp.cost_parts(
    ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
    ...     damage={"burst": (1000.0, 3000.0)},
    ... )
    >>> parts.middle().failure("burst")
    3700.0
    >>> used = relamp.cost_parts(
    ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
    ...     salvage=relamp.salvage(worth_of_new=400.0, gone_hours=2000.0),
    ... )
    >>> used.middle().planned_at(1000.0)
    780.0
    >>> doubtful = relamp.cost_parts(
    ...     lamp=800.0, labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
    ...     salvage=relamp.salvage(worth_of_new=400.0, gone_hours=2000.0), salvage_worth=(200.0, 500.0),
    ... )
    >>> doubtful.middle().planned_at(1000.0)
    805.0
    >>> later = relamp.cost_parts(
    ...     lamp=800.0, labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
    ...     warranty=relamp.warranty(form="full", price=800.0, hours=500.0, endings=["burst"]),
    ...     warranty_price=(600.0, 800.0), dark_minutes={"burst": (120.0, 480.0)},
    ... )
    >>> later.middle().failure("burst")
    1580.0
    >>> rates = (relamp.discount(rate_per_hour=1e-5), relamp.discount(rate_per_hour=3e-5))
    >>> relamp.cost_parts(
    ...     lamp=800.0, labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark, discount=rates
    ... ).middle().discount
    Discount(rate_per_hour=0.00002, worth_after_1000_hours=0.980199)
    """

def costs(planned: float, **by_ending: float) -> Costs:
    """Costs of a planned change and of a change after each kind of failure.

    Each is the whole cost of one change: lamp, technician, dark screen, damage.

    Parameters
    ----------
    planned : float
        Cost of a planned change, in the currency of the study.
    **by_ending : float
        Cost of a change after a failure, by ending: `burst`, `seal`, `no_strike`, `flicker`, `dim` and the like.

    Returns
    -------
    Costs

    Raises
    ------
    InputError
        For a word that is no ending, and a cost that is not a finite number above 0.

    Examples
    --------
    >>> import relamp
    >>> relamp.costs(950.0, burst=5200.0).planned
    950.0
    """

def cover(
    warranty: Warranty,
    /,
    *,
    months: int | None = None,
    months_from: str = "fitting",
    most_strikes: int | None = None,
) -> Cover:
    """A warranty with the limits that its paper has beside the hours.

    A lamp that ends at the last hour or on the last day counts as late: what such a claim brings is not counted on.

    Parameters
    ----------
    warranty : Warranty
        Money back by age, and the endings that are covered.
    months : int, optional
        Months after which nothing comes back, at least 1 and at most 600.
    months_from : {"fitting", "delivery"}
        The day from which the months run; from delivery time on the shelf counts.
    most_strikes : int, optional
        Strikes that are covered, at least 1.

    Returns
    -------
    Cover

    Raises
    ------
    InputError
        For months or strikes that are no whole numbers or out of range, and another start.

    Examples
    --------
    >>> import relamp
    >>> warranty = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
    >>> relamp.cover(warranty, months=24, months_from="delivery").months
    24
    >>> relamp.cover(warranty).months is None
    True
    """

def curve_world(
    tally: Tally, costs: Costs, *, failures: Sequence[str] | None = None, reading: str | None = None
) -> World:
    """The world of the records as they stand: each failure ending that came is a cause whose life is its curve, no
    family's.

    What `planned_age` says of it rests on the records alone, as a check on a model; give it `oldest_at_risk_hours`, for
    past that age such a life never fails. It cannot be saved, as its lives are no family's.

    Parameters
    ----------
    tally : Tally
        Lives with their endings.
    costs : Costs
        Costs of a planned change and after each ending that came.
    failures : list of str, optional
        The endings that are failures; None for all that are unless said otherwise.
    reading : str, optional
        The age that stands for a failure known to an interval: 'upper', 'midpoint' or 'lower'.

    Returns
    -------
    World

    Raises
    ------
    InputError
        For a word that is no ending, and an ending without a cost.
    DomainError
        Where no lamp ended in one of the given ways.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([700.0, 900.0, 1000.0, 1100.0, 1200.0], ending=["dim"] * 5)
    >>> world = relamp.curve_world(tally, relamp.costs(1.0, dim=6.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> relamp.planned_age(world, limit, oldest_at_risk_hours=1200.0).age_hours
    699.0
    """

def dark_minutes(planned: float, **by_ending: float) -> DarkMinutes:
    """Minutes that a screen is dark for a planned change and for a change after each kind of failure.

    A planned change takes 10 min to cool down, the exchange, and 10 min to warm up before alignment (common practice,
    no source).

    Parameters
    ----------
    planned : float
        Minutes of a planned change, above 0 and at most those of a year.
    **by_ending : float
        Minutes of a change after a failure, by ending, above 0: with the wait and the shows that are lost.

    Returns
    -------
    DarkMinutes
        An objective for `planned_age` and its like.

    Raises
    ------
    InputError
        For a word that is no ending, and minutes that are no number in range.

    Examples
    --------
    >>> import relamp
    >>> dark = relamp.dark_minutes(45.0, burst=360.0)
    >>> dark.planned, dark.by_ending
    (45.0, {'burst': 360.0})
    """

def dated_stock(
    model: World | Draws,
    age_hours: Column,
    *,
    hours_per_week: float | Column,
    planned_age_hours: float,
    limit: HourLimit,
    lead_time_days: float,
    days_ahead: float,
    service_target: float,
    hours_spread: float = 0.0,
    shared_hours_spread: float = 0.0,
    as_of: date | str | None = None,
    programme: Column | None = None,
    programmes: Mapping[str, Mapping[str, Any]] | None = None,
    stop: Sequence[Any] | None = None,
    progress: Progress | None = None,
) -> DatedStock:
    """Planned changes as dated orders, and the safety stock for failures and for the spread of the dates.

    Within t days a screen burns its weekly hours times a factor of its own and one of all screens, both lognormal
    with mean 1. The safety stock is the least that, beside the lamps dated by each day of the lead time, meets
    the target on that day. Where a lamp fails early its successor comes from the safety stock, and the dated lamp
    fills that up. Second changes of a screen within the lead time are left out; the result bounds their mean.

    Parameters
    ----------
    model : World or Draws
        Lives of the lamps. With draws the numbers needed by each day are mixed over them, so that the safety stock
        covers what is not known of the life; dates are those of the best world, chances to fail before them means.
    age_hours : array-like
        Ages of the lamps that burn today, hours; a missing one (None, null) is not known and counts as due.
    hours_per_week : float or array-like
        Programme hours of the screens, 0 to 168.
    planned_age_hours : float
        Age of the planned change, hours; held to the limit.
    limit : HourLimit
        The age that no lamp may pass.
    lead_time_days : float
        Days from placing an order to its arrival, 0 to 7,310; with 0 only what is due today is held.
    days_ahead : float
        Days from today for which planned changes are listed, at least the lead time and at most 7,310.
    service_target : float
        Wanted chance that no screen waits, above 0 and at most 1, on each day of the lead time by itself; the chance
        that none waits over the whole of it is lower.
    hours_spread, shared_hours_spread : float
        Standard deviation of programme hours as a share of them, 0 to 1: of each screen by itself, and of all
        together.
    as_of : date or str, optional
        Day of today's ages; needed with a programme or a stop.
    programme : array-like, optional
        Names, one for each screen; a missing programme stands for the same hours every day.
    programmes : dict, optional
        By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
        and growth_per_year (a share).
    stop : list, optional
        For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
        or a dict of days with chances that sum to 1. A screen needs no lamp after it; a lamp has a date as long as its
        screen may burn until then.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    DatedStock
        Its table lists the planned changes with due day, early and late day (one in ten lies outside each), day
        to order, chance that the lamp fails before if its screen burns until then, and chance that the screen stops
        before. Days count from today.

    Raises
    ------
    InputError
        For another model than a world or draws, ages, hours, days, spreads or a target that are not numbers or out of
        range, a stop before the as-of date, an unknown programme, and hours of more than a day.
    DomainError
        For days ahead that reach past the last day that can be written.
    RefusedError
        Where no draw gave an answer.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> found = relamp.dated_stock(
    ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit,
    ...     lead_time_days=30.0, days_ahead=60.0, service_target=0.95,
    ... )
    >>> found.dated_in_lead_time, found.safety_stock, found.level_all_random > found.level
    (4, 1, True)

    With a closure the four lamps move to later dates, and the screen that stops on 11 January needs none:

    >>> winter = {"winter": {"spans": [("2026-01-01", "2026-01-20", 0.0)]}}
    >>> shut = relamp.dated_stock(
    ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit,
    ...     lead_time_days=30.0, days_ahead=60.0, service_target=0.95, as_of="2026-01-01", programme=["winter"] * 12,
    ...     programmes=winter, stop=["2026-01-11"] + [None] * 11,
    ... )
    >>> [round(day) for day in shut.frame()["due_day"]]
    [33, 41, 49, 57]
    """

def dependent_curve(
    tally: Tally,
    *,
    suspects: Sequence[str],
    tau: float,
    endings: Sequence[str] | None = None,
    reading: str | None = None,
) -> DependentCurve:
    """Estimates the reliability without a family, under a stated dependence of suspect removals on failure.

    Age at failure and age at suspect removal are joined by the Gumbel-Hougaard copula of their reliabilities. How
    strongly
    cannot be learnt from the records, as each lamp shows only the earlier of the two; at 0 the curve is that of
    `product_limit`. Zheng & Klein (1995), Biometrika 82, 127-138 (from memory).

    Parameters
    ----------
    tally : Tally
        The records.
    suspects : list of str
        Endings of lamps that were taken out because they looked about to fail; words of `ENDINGS` other than
        "running".
    tau : float
        Kendall's tau between the age at failure and the age at suspect removal, at least 0 and below 1.
    endings : list of str, optional
        Endings that count as failure; without it every failure but the suspects.
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.

    Returns
    -------
    DependentCurve

    Raises
    ------
    InputError
        For endings that are none or cannot be suspect.
    DomainError
        For a dependence out of range.
    RefusedError
        With late entry, where every lamp at risk had gone before others came; and as `product_limit`.

    Examples
    --------
    >>> import relamp
    >>> why = ["dim", "burst", "running"]
    >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
    >>> [round(relamp.dependent_curve(tally, suspects=["dim"], tau=t).reliability_at(200.0), 4) for t in (0.0, 0.5)]
    [0.8, 0.5492]
    """

def discount(
    *,
    rate_per_hour: float | None = None,
    rate_per_year: float | None = None,
    hours_per_year: float | None = None,
) -> Discount:
    """A discount rate, stated per burning hour, or per year in a screen that burns so many hours a year.

    Parameters
    ----------
    rate_per_hour : float, optional
        Continuous rate per burning hour, above 0.
    rate_per_year : float, optional
        Rate per year, 0.05 for 5 percent; needs `hours_per_year`.
    hours_per_year : float, optional
        Hours that the screen burns in a year, above 0 and at most 8,784.

    Returns
    -------
    Discount
        An objective for `planned_age` and its like.

    Raises
    ------
    InputError
        For rates that are no numbers in range, and unless one way to state the rate is used alone.

    Examples
    --------
    >>> import relamp
    >>> relamp.discount(rate_per_hour=1e-5).rate_per_hour
    1e-05
    >>> relamp.discount(rate_per_year=0.05, hours_per_year=4000.0).rate_per_hour == relamp.discount(rate_per_hour=1e-5)
    False
    """

def distance_test(
    tally: Tally,
    *,
    family: str = "weibull",
    endings: Sequence[str] | None = None,
    replicates: int = 999,
    seed: int,
    progress: Progress | None = None,
) -> DistanceTest:
    """Tests a family by its distances from the product-limit curve, with chances by parametric bootstrap.

    Each replicate draws the life of every lamp from the fit, censors it (a lamp that failed gets a censoring age from
    the product-limit curve of the censoring), and is fitted again before its distances are taken. Late entry, windows
    and failures known to an interval are refused.

    A normal, logistic or smallest extreme value life may end before age 0, where no record can lie: replicates are
    drawn from the part above 0. Up to 1 % below it the chances hold; above they are too small, which the note
    `fit.cut_at_zero` says.

    Parameters
    ----------
    tally : Tally
        The records.
    family : str
        A name that `life` knows.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.
    replicates : int
        How many samples to draw, 99 or more.
    seed : int
        0 to 2^64 - 1: same seed, same replicates.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    DistanceTest

    Raises
    ------
    InputError
        For an unknown family or ending, fewer than 99 replicates, and a seed out of range.
    RefusedError
        For rows other than exact and right-censored from new, where the fit is refused, or too few replicates settled.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> relamp.distance_test(tally, replicates=199, seed=1).p_anderson_darling > 0.1
    True
    >>> relamp.distance_test(tally, family="exponential", replicates=199, seed=1).p_anderson_darling < 0.02
    True
    """

def ending_bounds(
    tally: Tally,
    *,
    suspects: Sequence[str],
    age_hours: float,
    widest: float = 0.25,
    level: float = 0.95,
    reading: str | None = None,
    min_at_risk: int = 5,
    given_survival_to: float | None = None,
) -> EndingBounds:
    """Bounds the reliability whatever share of the suspect endings were failures, each at the age it was filed with.

    Suspect rows filed as failures count as none in the upper curve. The bounds speak of misfiled endings, not of
    lamps taken
    out because they were about to fail.

    Parameters
    ----------
    tally : Tally
        The records.
    suspects : list of str
        Endings that may hide failures, or hold what was none; words of `ENDINGS` other than "running".
    age_hours : float
        The age at which the bounds are judged.
    widest : float
        Widest bounds that still say something, as a share of lamps.
    level : float
        Level of the band of each curve, inside (0, 1).
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.
    min_at_risk : int
        With late entry, the curves start at the first age from which this many lamps are at risk.
    given_survival_to : float, optional
        Starts the curves at this age, hours.

    Returns
    -------
    EndingBounds

    Raises
    ------
    InputError
        For endings that are none or cannot be suspect, and what is not a number.
    DomainError
        For a width or a level out of range.
    RefusedError
        For an age that the curves do not know, and as `product_limit`.

    Examples
    --------
    >>> import relamp
    >>> endings = ["burst", "unknown", "running"]
    >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, None], ending=endings, count=[1, 2, 7])
    >>> bounds = relamp.ending_bounds(tally, suspects=["unknown"], age_hours=250.0)
    >>> round(bounds.low, 6), round(bounds.high, 6), bounds.informative
    (0.7, 0.9, True)
    """

def endings_by_age(world: World, limit: HourLimit, *, ages_hours: Column | None = None) -> EndingsByAge:
    """How 1,000 lamps fitted new end if they are changed at an age or at failure, by ending and planned age.

    Parameters
    ----------
    world : World
        Causes with their lives; the costs play no part.
    limit : HourLimit
        An age past it is refused.
    ages_hours : array-like, optional
        Planned ages, hours; without it 200 even steps up to the limit.

    Returns
    -------
    EndingsByAge

    Raises
    ------
    InputError
        For no ages, and ages that are not numbers.
    DomainError
        For an age that is not above 0.
    LimitError
        For ages past the limit, each by its row.

    Examples
    --------
    At an even rate of one burst in 1,000 h, 1,000 (1 - exp(-0.5)) of 1,000 lamps burst before 500 h.

    >>> import relamp
    >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(1.0, burst=1.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> at = relamp.endings_by_age(world, limit, ages_hours=[500.0])
    >>> round(at.frame()["burst_per_1000_lamps"][0], 1), len(relamp.endings_by_age(world, limit))
    (393.5, 200)
    """

def expected_changes(
    life: Life, hours: float | Column, *, planned_age_hours: float | None = None, first_age_hours: float = 0.0
) -> ExpectedChanges:
    """Mean number of planned and failure changes of one screen by given burning hours, with its variance.

    Lamps run to failure, or to a planned age at which they are changed though they work; the first one may be of any
    age. The renewal equation M(t) = F(t) + integral of M(t - s) dF(s) over (0, t), F the distribution of the hours from
    a change to the next, is solved to about twelve digits, for densities infinite at age 0 and for lives that hardly
    vary too. Far out the long-run line t / mean + (variance - mean^2) / (2 mean^2) takes over once the solution has
    come as near to it as rounding. Exponential and gamma lives without a planned age are summed in closed form. Cox
    (1962), Renewal Theory.

    Parameters
    ----------
    life : Life
        The life of a lamp; several causes go in as one, such as `life("series(weibull, lognormal)", ...)`.
    hours : float or array-like
        Burning hours from the start, above 0.
    planned_age_hours : float, optional
        Age at which a lamp is changed though it works, hours; without it every lamp runs to failure.
    first_age_hours : float
        Age of the first lamp at the start, hours: 0 for a new one. At or past the planned age it is changed at once.

    Returns
    -------
    ExpectedChanges

    Raises
    ------
    InputError
        For what is not a number, NaN included.
    DomainError
        For hours or a planned age that are not above 0 and finite, and a first age below 0 or that no lamp reaches.
    RefusedError
        For a life with failures before age 0, or that fails by jumps and between them.
    LimitError
        For hours beyond what can be solved where the changes have not settled to their long-run line.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=1500.0)
    >>> run = relamp.expected_changes(life, [5000.0, 20000.0])
    >>> run.failures.round(4).tolist()
    [3.299, 14.4973]
    >>> planned = relamp.expected_changes(life, 5000.0, planned_age_hours=1000.0)
    >>> planned.failures.round(4).tolist(), planned.planned.round(4).tolist()
    ([1.3248], [3.7567])
    >>> old = relamp.expected_changes(life, 5000.0, planned_age_hours=1000.0, first_age_hours=600.0)
    >>> bool(old.changes[0] > planned.changes[0])
    True
    """

def expected_endings(
    reading: Reading,
    models: Mapping[str, Fit | Life],
    *,
    by: Sequence[str] | None = None,
    failure_endings: Sequence[str] | None = None,
) -> ExpectedEndings:
    """Failures that the lamps' ages let expect in each month, by batch, supplier and site, and those seen.

    Expected of a lamp in a month is the rise of its cumulative hazard from its age at the start to its age at the end,
    so old lamps do not make a site look bad, nor young ones a batch good. A failure counts where and when the life
    ended.

    Parameters
    ----------
    reading : Reading
        From `read_logs` or `read_table`.
    models : dict of str to Fit or Life
        The life of each lamp class, all `failure_endings` together; lamps of other classes are left out, with a note.
    by : list of str
        What to watch by: "fleet", "batch", "supplier", "site", "screen".
    failure_endings : list of str, optional
        Words of `ENDINGS` that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.

    Returns
    -------
    ExpectedEndings

    Raises
    ------
    InputError
        For what is no model, a word that is no ending, and what lamps cannot be watched by.
    RefusedError
        Where no lamp has a model.
    DomainError
        For a lamp at an age that no lamp reaches under its model.

    Examples
    --------
    >>> import relamp
    >>> table = {
    ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
    ...     "in": ["2025-11-01", "2025-11-01"], "out": ["2025-11-21", None], "why": ["popped", None],
    ...     "hours": [200.0, 300.0], "read": [None, "2025-12-01"],
    ... }
    >>> columns = {
    ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
    ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
    ... }
    >>> reading = relamp.read_table(
    ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst"},
    ...     dates="iso", blank_hours_at_fitting="new",
    ... )
    >>> life = relamp.life("exponential", scale=1000.0)
    >>> months = relamp.expected_endings(reading, {"2 kW": life}, by=["site"])
    >>> months.frame().select("name", "month", "expected", "observed").rows()
    [('S', '2025-11', 0.5, 1)]
    """

def failures_ahead(
    bootstrap: Bootstrap,
    *,
    age_hours: Column,
    ahead_hours: float | Column,
    count: Column | None = None,
    progress: Progress | None = None,
) -> FailuresAhead:
    """Predicts how many of the lamps that burn today will fail in the hours ahead.

    The number is the exact sum of independent lamps, each failing with chance 1 - R(age + hours) / R(age), within each
    draw of the bootstrap, and mixed over the draws. Lamps that fail are not replaced; `forecast` counts lamps needed by
    screens.

    Parameters
    ----------
    bootstrap : Bootstrap
        Draws of the life, all causes together.
    age_hours : array-like
        Ages of the lamps today, hours.
    ahead_hours : float or array-like
        Hours each lamp will burn unless it fails.
    count : array-like of whole numbers, optional
        Lamps at each age; 1 each without it.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    FailuresAhead

    Raises
    ------
    InputError
        For columns of different length, ages or hours that are not numbers or negative, and counts that are not whole.
    RefusedError
        Where too few draws gave an answer.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> draws = relamp.bootstrap(tally, replicates=200, seed=7)
    >>> ahead = relamp.failures_ahead(draws, age_hours=[300.0, 500.0], ahead_hours=200.0, count=[6, 4])
    >>> low, high = ahead.interval(level=0.8)
    >>> low < ahead.failures.mean < high
    True
    >>> relamp.failures_ahead(draws, age_hours=[300.0], ahead_hours=[0.0]).interval()
    (0, 0)
    """

def failures_to_see(*, hazard_ratio: float, share: float = 0.5, level: float = 0.95, power: float = 0.8) -> int:
    """Failures, of both groups together, with which a hazard ratio is told from 1.

    (z((1 + level) / 2) + z(power))^2 / (share (1 - share) ln(hazard_ratio)^2), z a normal quantile (Schoenfeld 1983):
    for
    planning, before there are records to compare.

    Parameters
    ----------
    hazard_ratio : float
        The ratio to be seen, above 0 and not 1.
    share : float
        Part of the failures that one group has where hazards are alike, inside 0 to 1.
    level : float
        One minus the chance to see what is not there, two-sided, inside 0 to 1.
    power : float
        Chance to see what is there, a share of 0.5 or more and below 1.

    Returns
    -------
    int

    Raises
    ------
    InputError
        For what is no number.
    DomainError
        For what is out of range.

    Examples
    --------
    >>> import relamp
    >>> relamp.failures_to_see(hazard_ratio=1.5)
    191
    >>> relamp.failures_to_see(hazard_ratio=1.5, share=0.2) > 191
    True
    """

def families() -> dict[str, list[str]]:
    """The life families that need no more than their name, with their parameters.

    Families made of these are named by what they are made of, such as "never_fails(weibull)",
    "mixture(exponential, weibull)", "series(weibull, weibull)", "above_zero(normal)" and
    "piecewise_constant(500, 1000)", whose numbers are ages in hours between which the hazard is constant.

    Returns
    -------
    dict of str to list of str
        Parameters by family, simplest family first.

    Examples
    --------
    >>> import relamp
    >>> families = relamp.families()
    >>> list(families)[:3], families["weibull"]
    (['exponential', 'weibull', 'weibull_failure_free'], ['shape', 'scale'])
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> fits = [relamp.fit(tally, family=name) for name in families if len(families[name]) == 1]
    >>> [fit.family for fit in fits]
    ['exponential']
    """

def family_box(family: str, /) -> dict[str, tuple[float, float]]:
    """The stated range of each parameter of a life family: values are checked there against 50-digit tables.

    A family takes parameters outside its box too, as far as numbers reach; there the digits of a figure are not
    promised. The box of a family made of others is that of its parts.

    Parameters
    ----------
    family : str
        Name of a family, such as "weibull", or of one made of others.

    Returns
    -------
    dict of str to (float, float)
        Smallest and largest value of each parameter, in the order of the family.

    Raises
    ------
    InputError
        For an unknown family, and a name that is no text.

    Examples
    --------
    >>> import relamp
    >>> relamp.family_box("weibull")
    {'shape': (0.2, 70.0), 'scale': (1.0, 100000.0)}
    """

def family_in_words(name: str, /) -> str:
    """The name of a life family as a sentence or a chart writes it.

    Parameters
    ----------
    name : str
        Name of a family as calls and files hold it. Other text comes back with spaces for underscores.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For a name that is no text.

    Examples
    --------
    >>> import relamp
    >>> relamp.family_in_words("weibull"), relamp.family_in_words("log_logistic")
    ('Weibull', 'log-logistic')
    """

def family_verdict(
    tally: Tally,
    *,
    fits: Sequence[Fit],
    age_hours: float,
    level: float = 0.95,
    endings: Sequence[str] | None = None,
) -> FamilyVerdict:
    """Puts fits of the same records side by side at an age: which fit alike, and how far apart they stand there."""

def fit(tally: Tally, *, family: str = "weibull", endings: Sequence[str] | None = None) -> Fit:
    """Fits a family to a tally by maximum likelihood.

    Exact failures, right-, left- and interval-censored lives, late entry and windows all enter one likelihood. Few
    failures give a `WeakDataWarning`, a search that stopped early a `NotConvergedWarning`; where no maximum exists a
    `RefusedError` names the reason and the best bound that still holds. Each parameter is marked settled or not, see
    `Fit.identified`; one that is not is a `WeakDataWarning`. A family made of others is searched from several starts,
    see `Fit.peaks`.

    Parameters
    ----------
    tally : Tally
        The records.
    family : str
        A name that `life` knows, such as "weibull", "exponential", "lognormal", "generalised_gamma",
        "above_zero(normal)", "piecewise_constant(500, 1000)" or "mixture(weibull, weibull)". For "weibull_failure_free"
        the likelihood has no bound next to an exact first failure: the fit is its highest maximum before that, and is
        refused with an alternative where there is none.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.

    Returns
    -------
    Fit

    Raises
    ------
    InputError
        For an unknown family or ending, and records that the family cannot have.
    RefusedError
        Where no maximum exists; the hint holds the best bound there is.

    Examples
    --------
    >>> import relamp
    >>> low = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
    >>> tally = relamp.lives(low, low[:10] + [None, None])
    >>> fit = relamp.fit(tally)
    >>> round(fit.parameters["shape"], 3), fit.failures
    (3.236, 10)
    >>> relamp.fit(tally, family="lognormal").aic > fit.aic
    True
    >>> fit.identified
    {'shape': 'yes', 'scale': 'yes'}
    """

def fit_causes(
    tally: Tally,
    *,
    family: str = "weibull",
    failures: Sequence[str] | None = None,
    min_failures: int = 5,
    seed: int = 0,
) -> CauseFits:
    """Fits each cause of failure, the rare ones together; endings never seen get an upper bound.

    Parameters
    ----------
    tally : Tally
        The records.
    family : str
        A name that `life` knows, such as "weibull", "exponential", "lognormal", "log_logistic" or "above_zero(normal)".
    failures : list of str, optional
        Endings that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
    min_failures : int
        How many failures an ending needs for its own fit.
    seed : int
        Seed of the check by cluster, 0 to 2^64 - 1.

    Returns
    -------
    CauseFits

    Raises
    ------
    InputError
        For an unknown family or ending, and records that the family cannot have.
    RefusedError
        Where no maximum exists; the hint holds the best bound there is.

    Examples
    --------
    >>> import relamp
    >>> low = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
    >>> endings = ["burst"] * 5 + ["dim"] * 5 + ["running"] * 2
    >>> tally = relamp.lives(low, low[:10] + [None, None], ending=endings)
    >>> fits = relamp.fit_causes(tally, min_failures=5)
    >>> [endings for endings, fit in fits.causes]
    [[('burst', 1.0)], [('dim', 1.0)]]
    """

def fit_covariates(
    tally: Tally,
    *,
    terms: Sequence[str],
    family: str = "weibull",
    references: Mapping[str, str] | None = None,
    laws: Mapping[str, Mapping[str, str | float]] | None = None,
    value_is: Mapping[str, str] | None = None,
    endings: Sequence[str] | None = None,
) -> CovariateFit:
    """Fits an accelerated-life regression: covariates multiply every age by a factor, or shift it by hours.

    A lamp with covariates z has R(t) = R0(t exp(-eta)), eta the sum of coefficients times columns, 0 for the
    baseline lamp;
    for "normal", "logistic" and "smallest_extreme_value" R0(t - eta), eta in hours. Exact failures, intervals, late
    entry,
    windows and counts all enter one likelihood. Few failures for each coefficient give a `WeakDataWarning`.

    Parameters
    ----------
    tally : Tally
        The records, with covariates.
    terms : list of str
        Names of covariates, and interactions such as "supplier:current"; a number joined to itself is its square. A
        category of k levels has k - 1 coefficients, such as "supplier=south".
    family : str
        As in `fit`, but "weibull_failure_free" and "piecewise_constant(...)", whose likelihoods have corners.
        "above_zero(...)" fits, but its moved lives have no parameters of their own: `quantile` answers there, `life`
        refuses.
    references : dict of str to str, optional
        The level of a category that the others are compared with; the first in order without it.
    laws : dict of dicts, optional
        Stress laws by covariate, such as {"current": {"law": "inverse_power", "reference": 75.0, "value_is":
        "at_fitting"}}:
        the column is ln(current / reference). For "arrhenius" the covariate is degrees Celsius, the column
        1/(k T) - 1/(k T0) with T = x + 273.15 and k = 8.617333262e-5 eV/K, the coefficient an activation energy in eV.
        "value_is" says what the one value of a lamp stands for: "at_fitting" or "constant_over_life"; a
        "last_reading" is
        refused, as a current is raised because a lamp fades. Life is in proportion to (current / reference)^b; the
        power n of `fit_current_history` is -b. A `WeakDataWarning` says where a greater current or temperature prolongs
        life.
    value_is : dict of str to str, optional
        The same declaration for numbers without a law, such as {"current": "at_fitting"}. A number that nobody declares
        brings a `WeakDataWarning`: read at the end of a life instead of at fitting, it would make its ratio wrong.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.

    Returns
    -------
    CovariateFit

    Raises
    ------
    InputError
        For unknown covariates, levels and laws, and interactions without one of their parts.
    RefusedError
        For collinear columns, by name; levels without lamps; levels without failures, whose coefficient has no finite
        maximum: the hint holds its bound.

    Examples
    --------
    >>> import relamp
    >>> supplier = ["north"] * 6 + ["south"] * 6
    >>> current = [70.0, 70.0, 80.0, 80.0, 90.0, 90.0] * 2
    >>> low = [900, 950, 720, 633, 550, 480, 1100, 1190, 1010, 903, 780, 655]
    >>> tally = relamp.lives(low, covariates={"supplier": supplier, "current": current})
    >>> law = {"law": "inverse_power", "reference": 75.0, "value_is": "at_fitting"}
    >>> import warnings
    >>> with warnings.catch_warnings():
    ...     warnings.simplefilter("ignore", relamp.WeakDataWarning)
    ...     fit = relamp.fit_covariates(tally, terms=["supplier", "current"], laws={"current": law})
    >>> sorted(fit.coefficients)
    ['current', 'supplier=south']
    >>> fit.coefficients["current"] < -1.5 and fit.life_ratios["supplier=south"] > 1.2
    True
    """

def fit_current_history(
    lives: TableLike,
    pieces: TableLike,
    *,
    family: str = "weibull",
    single: str | None = None,
    endings: Sequence[str] | None = None,
) -> CurrentHistoryFit:
    """Fits a life to lamps whose current was recorded all along: each hour wears as the n-th power of the current it
    burned at.

    The worn hours of a lamp are u = sum of hours x (current / mean current)^n over its pieces; R(t) = R0(u(t)), and
    the
    density per hour carries the factor of the last piece. At a constant current life is in proportion to
    current^-n: the coefficient that an inverse power law has in `fit_covariates` is -n. A `WeakDataWarning` says where
    a greater current prolongs life.
    Cumulative exposure: W. Nelson (1980), IEEE Transactions on Reliability 29, 103-108 (from memory).

    Parameters
    ----------
    lives : table
        Columns `life` (a name), `low` and `high` in hours as in `lives`, and where there are such `entry` and
        `ending`. A life that was out of sight for a while has a row for each stretch at risk, the later ones with
        their entry.
    pieces : table
        Columns `life`, `from_hours`, `to_hours`, `current`: the current of every stretch of each life from 0 h to
        its last
        age without a gap, in any order.
    family : str
        As in `fit`: a smooth family of ages above 0.
    single : {"constant_over_life"}, optional
        Declares that a life with a single current, in however many pieces, burned at it all along. Without it such a
        life is refused: a current is raised because a lamp fades, so a last reading follows the age.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.

    Returns
    -------
    CurrentHistoryFit

    Raises
    ------
    InputError
        For gaps and overlaps, single readings, bad numbers and names, each by table and row.
    RefusedError
        For currents that do not differ enough, a family with corners or of ages below 0, and as `fit`.

    Examples
    --------
    >>> import relamp
    >>> current = [75.0, 90.0] * 12
    >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
    >>> life = [f"lamp {i}" for i in range(24)]
    >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
    ...           "current": [70.0] * 24 + current}
    >>> fit = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces, family="lognormal")
    >>> round(fit.power, 1)
    2.0
    """

def fit_known_shape(
    tally: Tally,
    *,
    shape: float,
    level: float = 0.95,
    termination: str = "time",
    endings: Sequence[str] | None = None,
) -> KnownShapeFit:
    """Fits the scale of a Weibull life whose shape is known, with one-sided bounds even from no failure.

    scale = (sum (exit^shape - entry^shape) / failures)^(1 / shape). With no failure in E hours and shape 1 the 95 %
    upper bound of the rate, 1 / scale_low, is 2.996 / E. Rows known to an interval and windowed rows go through the
    likelihood.

    Parameters
    ----------
    tally : Tally
        The records.
    shape : float
        Without unit, above 0, from other lamps of the same kind.
    level : float
        Of each bound by itself, above 0 and below 1.
    termination : {"time", "failure"}
        What ended the watch: fixed hours, or the last failure of a fixed number.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.

    Returns
    -------
    KnownShapeFit

    Raises
    ------
    InputError
        For an unknown ending or termination, and what is not a number.
    DomainError
        For a level that is not inside 0 to 1, and a shape that is not above 0.
    RefusedError
        Where the records bound nothing.

    Examples
    --------
    Ten lamps burned 1,000 h each and none failed:

    >>> import relamp
    >>> none = relamp.fit_known_shape(relamp.lives([1000.0], [None], count=[10]), shape=1.0)
    >>> none.scale is None, round(1e4 / none.scale_low, 3)
    (True, 2.996)
    >>> two = relamp.fit_known_shape(relamp.lives([300.0, 400.0, 500.0], [300.0, 400.0, None]), shape=2.0)
    >>> two.scale
    500.0
    """

def chain_forecast(
    plans: Mapping[str, tuple[World | Draws, float, HourLimit]],
    *,
    lamp_class: Column,
    site: Column,
    age_hours: Column,
    hours_per_week: float | Column,
    as_of: date | str,
    months: int = 12,
    depot: Column | None = None,
    programme: Column | None = None,
    programmes: Mapping[str, Mapping[str, Any]] | None = None,
    stop: Sequence[Any] | None = None,
    batch: Column | None = None,
    shared_by: str | None = None,
    shared_on: str = "hazard",
    shared_spread: float = 0.0,
    progress: Progress | None = None,
) -> ChainForecast:
    """Lamps needed by a chain, by class, site, depot and calendar month, as whole distributions.

    The clock of a screen runs by its programme hours: weekly hours / 7 x factor of the month x factors of spans x
    (1 + growth)^(years from the as-of date). Within a draw screens are independent and their numbers are convolved;
    over draws the distributions are mixed. process_sd is the root of the mean variance within a draw, parameter_sd
    the spread over draws of the mean. First changes are exact; means of a month meet the renewal equation to 1e-5 of
    themselves and the variance of the whole to about 1e-4, as measured for Weibull shapes of 0.5 to 6 over two years.

    Parameters
    ----------
    plans : dict
        For each lamp class a World or Draws, the age of the planned change in hours, and the HourLimit that holds it.
    lamp_class, site : array-like
        Names, one for each screen.
    age_hours : array-like
        Ages of the lamps at the start of the as-of date, hours; a missing one (None, null) is not known and counts as
        due.
    hours_per_week : float or array-like
        Programme hours of an ordinary week, 0 to 168.
    as_of : date or str
        The first day.
    months : int
        Calendar months ahead, 1 to 240; the first runs from the as-of date to its end.
    depot, programme : array-like, optional
        Names, one for each screen; a missing programme stands for the same hours every day.
    programmes : dict, optional
        By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
        and growth_per_year (a share).
    stop : list, optional
        For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
        or a dict of days with chances that sum to 1.
    batch : array-like, optional
        With shared_by='batch': batch of the lamp that burns on each screen today; a missing one is not known, and
        stands for a batch of its own.
    shared_by : str, optional
        'site', 'chain' or 'batch': who shares a circumstance that the model does not know. With 'batch' those are the
        lamps of today; lamps fitted later are of batches that nobody knows yet, and have the life of the model.
    shared_on : str
        'hazard' or 'hours': what it multiplies; the hazard for a batch.
    shared_spread : float
        Standard deviation of the logarithm of its factor, 0 to 1. Its median is 1 and its mean exp(spread^2 / 2), so
        that the mean number of lamps rises a little with the spread. The factor is that of the hours ahead, as far as
        nobody knows it today: ages reached and failures seen until now do not move it.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    ChainForecast

    Raises
    ------
    InputError
        For every wrong row at once: a class without a plan, a stop before the as-of date, hours of more than a day.
    DomainError
        For another number of months than 1 to 240.
    RefusedError
        Where one screen would need too many lamps, or no draw gave an answer.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> chain = relamp.chain_forecast(
    ...     {"X": (world, 2000.0, limit)}, lamp_class=["X", "X"], site=["north", "south"],
    ...     age_hours=[100.0, 1900.0], hours_per_week=70.0, as_of="2026-01-01", months=3,
    ...     stop=[None, "2026-01-05"],
    ... )
    >>> len(chain), round(chain.count("X", site="south").mean, 3)
    (3, 0.016)
    """

def policy_wave(old: ChainForecast, new: ChainForecast) -> list[PolicyWave]:
    """The one-off wave of lamps when the planned age changes: two forecasts of the same screens, class by class.

    One-off lamps of a month = after - before - hours of the month x (1 / M(new age) - 1 / M(old age)); M(T): mean hours
    from one change to the next. A lower age brings lamps forward at once and needs more for good; only the first is a
    wave.

    Parameters
    ----------
    old, new : ChainForecast
        The same screens and months under the old and under the new planned ages.

    Returns
    -------
    list of PolicyWave
        One for each lamp class.

    Raises
    ------
    InputError
        For forecasts of other classes, months or screens.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> lamps = {"lamp_class": ["X"] * 20, "site": ["north"] * 20, "age_hours": [100.0 * i for i in range(20)]}
    >>> old, new = (
    ...     relamp.chain_forecast(
    ...         {"X": (world, age, limit)}, **lamps, hours_per_week=70.0, as_of="2026-01-01", months=6
    ...     )
    ...     for age in (2000.0, 1500.0)
    ... )
    >>> wave = relamp.policy_wave(old, new)[0]
    >>> wave.due_at_once, wave.passed
    (5, '2026-02-28')
    """

def forecast(
    model: World | Draws,
    age_hours: Column,
    *,
    hours_per_week: float | Column,
    planned_age_hours: float,
    limit: HourLimit,
    periods: int = 6,
    period_days: float = 30.4375,
    as_of: date | str | None = None,
    programme: Column | None = None,
    programmes: Mapping[str, Mapping[str, Any]] | None = None,
    stop: Sequence[Any] | None = None,
    progress: Progress | None = None,
) -> Forecast:
    """Lamps needed in each coming period if lamps are changed at the planned age or at failure.

    Parameters
    ----------
    model : World or Draws
        With draws, screens are independent within a draw and the distributions are mixed over draws.
    age_hours : array-like
        Ages of the lamps that burn today, hours; a missing one (None, null) is not known and counts as due.
    hours_per_week : float or array-like
        Programme hours of the screens, 0 to 168.
    planned_age_hours : float
        Age of the planned change, hours; held to the limit.
    limit : HourLimit
        The age that no lamp may pass.
    periods : int
        How many, 1 or more.
    period_days : float
        Length of each, days, 0 or more; a month by default. With 0 days nothing is needed, not even for
        lamps that are due today, which are counted apart.
    as_of : date or str, optional
        The first day, at whose start the ages are those given; wanted with a programme or a stop.
    programme : array-like, optional
        Names, one for each screen; a missing programme stands for the same hours every day.
    programmes : dict, optional
        By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
        and growth_per_year (a share).
    stop : list, optional
        For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
        or a dict of days with chances that sum to 1.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    Forecast

    Raises
    ------
    InputError
        For another model than a world or draws, ages or hours that are not numbers or out of range, `periods` that is
        no whole number, a stop before the as-of date, an unknown programme, and hours of more than a day.
    DomainError
        For a horizon of no period, or of more than 20 years.
    RefusedError
        Where one screen would need hundreds of lamps.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> forecast = relamp.forecast(
    ...     world, [100.0, 1900.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit, periods=3
    ... )
    >>> forecast.due_now, len(forecast)
    (1, 3)

    With a closure and a screen that stops, over a lead time of 21 days: the lamp of 1,900 h is due on day 15, not 10.

    >>> winter = {"winter": {"spans": [("2026-01-01", "2026-01-05", 0.0)]}}
    >>> def lead(days):
    ...     return relamp.forecast(
    ...         world, [1900.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit, periods=1,
    ...         period_days=days, as_of="2026-01-01", programme=["winter", "winter"], programmes=winter,
    ...         stop=[None, "2026-01-01"],
    ...     ).needed(1)
    >>> lead(14.0).at_most(0) > 0.9, lead(21.0).at_most(0) < 1e-12
    (True, True)
    """

def horizon_age(
    world: World,
    limit: HourLimit,
    *,
    horizon_hours: float,
    first_age_hours: float = 0.0,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
) -> HorizonAge:
    """The planned age of least mean cost over a horizon, such as the hours until a conversion, that the limit allows.

    The cost jumps down at every age that divides the horizon, as the last planned change then falls on it and is
    not made. All such ages that can win are looked at, and the stretches between that cost least are searched. Of
    the two whole hours next to the optimum the cheaper is advised, as an hour too few can bring one change more.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        No age in the answer passes it.
    horizon_hours : float
        Burning hours of the screen to the horizon, above 0.
    first_age_hours : float
        Age of the lamp that burns today, hours: 0 for a new one. At or past the planned age it is changed at once.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit), in words.

    Returns
    -------
    HorizonAge

    Raises
    ------
    InputError
        For what is not a number, NaN included, an age of the records that is not above 0, and a blank reason.
    DomainError
        For a horizon that is not above 0, and a first age below 0 or that no lamp reaches.
    RefusedError
        For a best age below one hour, and a life made of steps or that reaches below age 0.
    LimitError
        For a horizon beyond what can be solved.

    Examples
    --------
    Three changes, and a fourth lamp that burns a little shorter than the others.

    >>> import relamp
    >>> life = relamp.life("weibull", shape=4.0, scale=1000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=1500.0, source="invented data sheet")
    >>> best = relamp.horizon_age(world, limit, horizon_hours=2000.0)
    >>> best.age_hours, best.verdict
    (520.0, 'best_below_limit')
    >>> relamp.horizon_age(world, limit, horizon_hours=2000.0, first_age_hours=200.0).age_hours <= 1500.0
    True

    Where no lamp of the records burned past 400 h, neither does the advice.

    >>> held = relamp.horizon_age(world, limit, horizon_hours=2000.0, oldest_at_risk_hours=400.0)
    >>> held.age_hours, held.verdict
    (400.0, 'records_end')
    """

def horizon_costs(
    world: World, limit: HourLimit, *, horizon_hours: float, ages_hours: Column, first_age_hours: float = 0.0
) -> HorizonCosts:
    """Mean cost of one screen to a horizon, such as the hours until its conversion, at each of the given planned ages.

    K(H) = sum over causes of the integral of [1 + M(H - u)] c(u) h(u) R(u) over u in (0, min(H, A)), plus c_p R(A)
    [1 + M(H - A)] for an age A below the horizon, M the mean number of changes. The last lamp counts with what it
    costs before the horizon. A planned change that falls on the horizon itself is not made. Barlow and Proschan
    (1965), Mathematical Theory of Reliability, chapters 3 and 4.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        An age past it is refused.
    horizon_hours : float
        Burning hours of the screen to the horizon, above 0.
    ages_hours : array-like
        Planned ages, hours.
    first_age_hours : float
        Age of the lamp that burns today, hours: 0 for a new one. At or past the planned age it is changed at once.

    Returns
    -------
    HorizonCosts

    Raises
    ------
    InputError
        For no ages, and for what is not a number, NaN included.
    DomainError
        For an age or a horizon that is not above 0, and a first age below 0 or that no lamp reaches.
    RefusedError
        For a life made of steps, or that reaches below age 0.
    LimitError
        For ages past the limit, each by its row, and a horizon beyond what can be solved.

    Examples
    --------
    At an even rate 1.5 failures come in 1,500 h. No lamp reaches 1,500 h before that; 1,200 h one does if it must.

    >>> import relamp
    >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> ages = [1200.0, 1500.0]
    >>> relamp.horizon_costs(world, limit, horizon_hours=1500.0, ages_hours=ages).cost.round(2).tolist()
    [8171.97, 7800.0]
    >>> old = relamp.horizon_costs(world, limit, horizon_hours=1500.0, ages_hours=ages, first_age_hours=1000.0)
    >>> bool(old.cost[1] > 7800.0)
    True
    """

def hour_limit(
    *,
    source: str,
    maximum_hours: float | None = None,
    warranty_hours: float | None = None,
    average_life_hours: float | None = None,
    limit_hours: float | None = None,
    reason: str | None = None,
) -> HourLimit:
    """The hour limit of a lamp class, from the hours its maker prints.

    By default it is the maker's limit of use, else the warranty hours; `limit_hours` puts another in its place and
    needs a `reason`. Lamps stay judged against the maker's limit too.

    Parameters
    ----------
    maximum_hours, warranty_hours, average_life_hours : float, optional
        Hours, as printed; at least one of the first two. The average life is never a limit.
    source : str
        Where they are printed.
    limit_hours : float, optional
        The user's own limit, hours.
    reason : str, optional
        Why the own limit holds.

    Returns
    -------
    HourLimit

    Raises
    ------
    InputError
        For hours that are not numbers of at least 1, no printed limit, and a limit of one's own without a reason.

    Examples
    --------
    >>> import relamp
    >>> relamp.hour_limit(warranty_hours=2000.0, source="invented data sheet").cap(2345.6)
    2000.0
    >>> own = relamp.hour_limit(
    ...     maximum_hours=2500.0, source="invented data sheet", limit_hours=2300.0, reason="agreed with the insurer"
    ... )
    >>> own.hours, own.maker_hours
    (2300.0, 2500.0)
    """

def incidence(
    tally: Tally,
    *,
    level: float = 0.95,
    reading: str | None = None,
    min_at_risk: int = 5,
    given_survival_to: float | None = None,
) -> Incidence:
    """Estimates the probability to fail by each cause by each age while the other causes act too.

    Incidences and reliability add up to 1 at every age.

    Parameters
    ----------
    tally : Tally
        The records.
    level : float
        Level of the band, inside (0, 1).
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.
    min_at_risk : int
        With late entry, the curves start at the first age from which this many lamps are at risk.
    given_survival_to : float, optional
        Starts the curves at this age, hours: they then hold for lamps that reached it.

    Returns
    -------
    Incidence

    Raises
    ------
    InputError
        For an unknown reading, and what is not a number.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        Where no lamps, or too few, are at risk, and for failures known to an interval without a reading.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([10.0, 20.0], [10.0, 20.0], ending=["burst", "dim"])
    >>> relamp.incidence(tally).endings
    ('burst', 'dim')
    """

def incidence_bounds(
    tally: Tally,
    *,
    cause: str,
    suspects: Sequence[str],
    age_hours: float,
    widest: float = 0.25,
    level: float = 0.95,
    reading: str | None = None,
    min_at_risk: int = 5,
    given_survival_to: float | None = None,
) -> IncidenceBounds:
    """Bounds the incidence of one cause whatever the suspect endings were, each at the age it was filed with.

    The upper bound takes every suspect row as a failure by the cause, the lower as one by another cause: a lamp that
    failed
    otherwise can no longer fail by this one.

    Parameters
    ----------
    tally : Tally
        The records.
    cause : str
        A word of `ENDINGS`.
    suspects : list of str
        Endings that may hide failures, or hold what was none; words of `ENDINGS` other than "running".
    age_hours : float
        The age at which the bounds are judged.
    widest : float
        Widest bounds that still say something, as a share of lamps.
    level : float
        Level at which chance is allowed for, inside (0, 1).
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.
    min_at_risk : int
        With late entry, the curves start at the first age from which this many lamps are at risk.
    given_survival_to : float, optional
        Starts the curves at this age, hours.

    Returns
    -------
    IncidenceBounds

    Raises
    ------
    InputError
        For endings that are none or cannot be suspect, and what is not a number.
    DomainError
        For a width or a level out of range.
    RefusedError
        For an age that the curves do not know, and as `incidence`.

    Examples
    --------
    >>> import relamp
    >>> endings = ["burst", "unknown", "burst"]
    >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, 300.0], ending=endings, count=[1, 2, 7])
    >>> bounds = relamp.incidence_bounds(tally, cause="burst", suspects=["unknown"], age_hours=300.0, widest=0.1)
    >>> bounds.informative
    False
    """

def incidence_test(
    groups: Mapping[str, Tally], *, cause: str, power: float = 0.0, reading: str | None = None, min_at_risk: int = 5
) -> GroupTest:
    """Tests whether the incidence of one cause is the same in groups, the other causes acting as they do in each.

    Equal incidence is not equal hazard: where other causes take lamps away sooner in one group, fewer are left to
    fail by
    this one.

    Parameters
    ----------
    groups : dict of str to Tally
        The records of each group.
    cause : str
        A word of `ENDINGS`.
    power : float
        Each age has as weight the share that has not failed by the cause before it, to this power; 0 for even weights.
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.
    min_at_risk : int
        With late entry, the comparison starts at the first age from which each group has this many lamps at risk.

    Returns
    -------
    GroupTest

    Raises
    ------
    InputError
        For what are not groups, no ending, and fewer than two groups.
    DomainError
        For a power out of range.
    RefusedError
        For a group without lamps or with too few at risk, and for failures known to an interval without a reading.

    Examples
    --------
    >>> import relamp
    >>> ages = [100.0 * i for i in range(1, 21)]
    >>> a = relamp.lives(ages, ending=["burst", "burst", "burst", "dim"] * 5)
    >>> b = relamp.lives(ages, ending=["dim", "dim", "dim", "burst"] * 5)
    >>> test = relamp.incidence_test({"A": a, "B": b}, cause="burst")
    >>> test.frame()["observed"].to_list(), test.p_value < 0.01
    ([15, 5], True)
    """

def last_buy(
    model: World | Draws,
    age_hours: Column,
    *,
    hours_per_week: float | Column,
    planned_age_hours: float,
    limit: HourLimit,
    end_days: float,
    convert_days: Sequence[_Conversion] | None = None,
    as_of: date | str | None = None,
    programme: Column | None = None,
    programmes: Mapping[str, Mapping[str, Any]] | None = None,
    stop: Sequence[Any] | None = None,
    risk: float | None = None,
    price: float | None = None,
    cost_short: float | None = None,
    money_back: float | None = None,
    on_hand: int = 0,
    used_age_hours: Column | None = None,
    used_ending: Sequence[str] | None = None,
    slip: Sequence[tuple[float, float]] | None = None,
    least_hours_left: float | None = None,
    shelf_loss_per_year: float = 0.0,
    plays: int = 4000,
    seed: int = 1,
    progress: Progress | None = None,
) -> LastBuy:
    """Lamps to buy once, for all that will be needed until the last screen is converted or the time ends.

    A lamp is changed at the planned age or at failure; the lamps needed are the changes of each screen until it is
    converted or the time ends, as a whole distribution. At a risk the quantity is the least with P(needed > it) at
    most the risk; by costs the least with P(needed <= quantity) >= (cost_short - price) / (cost_short - money_back),
    where money comes back for lamps that still work. With `least_hours_left` a lamp freed by conversion goes to the
    shelf with its age, and is fitted after a failure before a new one. A lamp short counts as had from elsewhere at
    once.

    Parameters
    ----------
    model : World or Draws
        With draws, screens are independent within a draw and the distributions are mixed over draws.
    age_hours : array-like
        Ages of the lamps that burn today, hours; a missing one (None, null) is not known and counts as due.
    hours_per_week : float or array-like
        Programme hours of the screens, 0 to 168.
    planned_age_hours : float
        Age of the planned change, hours; held to the limit.
    limit : HourLimit
        The age that no lamp may pass.
    end_days : float
        Days from today until no lamp of the type is needed or to be had any more, 0 to 7,310.
    convert_days : list, optional
        For each screen the days from today to its conversion, None for none, or pairs of a day and its chance;
        what is left of the chances means no conversion before the end.
    as_of : date or str, optional
        The first day, at whose start the ages are those given; wanted with a programme or a stop.
    programme : array-like, optional
        Names, one for each screen; a missing programme stands for the same hours every day.
    programmes : dict, optional
        By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
        and growth_per_year (a share).
    stop : list, optional
        For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
        or a dict of days with chances that sum to 1; in place of `convert_days`.
    risk : float, optional
        Greatest chance of a shortage, 0 or more and below 1; 0 is taken as one less likely than 1e-12, and a note says
        what it means. Either this or the three costs.
    price : float, optional
        Cost of a lamp in the last buy.
    cost_short : float, optional
        Cost of each lamp short, above the price: a lamp from elsewhere, an earlier conversion or lost shows.
    money_back : float, optional
        Money back for each usable lamp left, below the price; a cost where below 0.
    on_hand : int
        New lamps on the shelf today.
    used_age_hours : array-like, optional
        Hours burned by the used lamps on the shelf today, missing where not known. After a failure the one with the
        most hours left is fitted before a new lamp; it keeps its age.
    used_ending : list of str, optional
        Why each was taken out: 'planned', 'moved' and 'converted' serve with hours left below the planned age, and with
        at least `least_hours_left` where that is given; others do not.
    slip : list, optional
        Pairs of a shift in days of all conversions alike and its chance, the chances summing to 1.
    least_hours_left : float, optional
        Hours below the planned age from which a freed lamp is used again; without it none is.
    shelf_loss_per_year : float
        Share of stored lamps that becomes unusable in a year, 0 or more and below 1.
    plays : int
        How many times the fleet is played where lamps are reused or lost on the shelf, 100 to a million.
    seed : int
        Seed of the plays.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    LastBuy

    Raises
    ------
    InputError
        For another model than a world or draws, a conversion before today, chances outside 0 to 1 or summing to more
        than 1, costs out of order, and whatever else is out of range.
    DomainError
        For an end further than 20 years.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
    >>> buy = relamp.last_buy(
    ...     world, [500.0, 800.0, None], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
    ...     convert_days=[400.0, [(300.0, 0.5), (500.0, 0.5)], None], risk=0.05,
    ... )
    >>> buy.buy, buy.shortage_chance < 0.05
    (18, True)

    By dates, with half the hours from June to August:

    >>> dated = relamp.last_buy(
    ...     world, [500.0, 800.0, None], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
    ...     as_of="2026-01-01", programme=["summer"] * 3,
    ...     programmes={"summer": {"by_month": [1.0] * 5 + [0.5] * 3 + [1.0] * 4}},
    ...     stop=["2027-02-05", {"2026-10-28": 0.5, "2027-05-16": 0.5}, None], risk=0.05,
    ... )
    >>> dated.buy < buy.buy
    True

    Two used lamps on the shelf, of which the one that failed does not serve:

    >>> used = relamp.last_buy(
    ...     world, [500.0, 800.0, None], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
    ...     risk=0.05, used_age_hours=[300.0, 200.0], used_ending=["converted", "flicker"],
    ... )
    >>> used.notes[0].startswith("1 of 2 used lamps on the shelf may serve after failures")
    True
    """

def lead_demand(
    needed: float | Count,
    *,
    lead_time_days: float | Column,
    weights: Column | None = None,
    review_days: float = 0.0,
    variance_to_mean: float = 1.0,
    judged_at: str = "any_moment",
) -> LeadDemand:
    """Lamps needed while an order is on its way, and until the next one can be placed.

    Several lead times are mixed with their weights, which is exact where orders arrive in the order they were
    placed. Where they may overtake each other and lamps are needed one at a time by chance, only the mean lead
    time counts, and the mixture is on the safe side.

    Parameters
    ----------
    needed : float or Count
        Mean lamps needed a day, 0 to 1e6; or the number needed over the lead time, such as
        `forecast(..., periods=1, period_days=lead_time_days).needed(1)`, with the shelf watched all the time.
    lead_time_days : float or array-like
        Days from placing an order to its arrival, 0 to 7,310; several are mixed.
    weights : array-like, optional
        How likely each lead time is, a finite weight of at least 0 each; alike without it.
    review_days : float
        Days between two looks at the shelf, 0 to 7,310; 0 where it is watched all the time.
    variance_to_mean : float
        Variance over mean of the number needed, 1 to 1,000: 1 for lamps needed one at a time by chance, more
        where they come in batches.
    judged_at : str
        When the shelf is judged, where there are reviews: "any_moment" for the mean over the whole review period,
        "period_ends" for its ends alone, the convention of many textbooks. There fewest lamps are left and most
        screens wait, so that it counts less holding and more waiting for the same rule.

    Returns
    -------
    LeadDemand

    Raises
    ------
    InputError
        For what is not a number or out of range, for weights of another length than the lead times, for a count
        with a review period or a ratio, and for another word of `judged_at`.

    Examples
    --------
    >>> import relamp
    >>> demand = relamp.lead_demand(0.2, lead_time_days=[15.0, 30.0], weights=[2, 1], review_days=7.0)
    >>> round(demand.lead.mean, 3), round(demand.protected.mean, 3)
    (4.0, 5.4)
    >>> round(relamp.lead_demand(relamp.Count.poisson(4.0), lead_time_days=20.0).needed_a_day, 6)
    0.2
    >>> ends = relamp.lead_demand(0.2, lead_time_days=20.0, review_days=7.0, judged_at="period_ends")
    >>> round(ends.moment.mean, 3)
    5.4
    """

def least_regret(
    world: World,
    limit: HourLimit,
    *,
    least_factor: float = 0.5,
    most_factor: float = 2.0,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | DarkMinutes | None = None,
) -> LeastRegret:
    """The age that costs least more than the best one, at worst, where costs of failures are known only to a factor.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        No age in the answer passes it.
    least_factor : float
        Smallest factor on every cost of a failure, above 0.
    most_factor : float
        Largest factor, at least the smallest.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit).
    objective : Discount or DarkMinutes, optional
        What is counted per hour; None for the cost.

    Returns
    -------
    LeastRegret

    Raises
    ------
    InputError
        For factors that are no range above 0, or leave a failure cheaper than what a warranty gives back.
    RefusedError
        Where the best age lies below one hour.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=3000.0))
    >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
    >>> relamp.least_regret(world, limit, least_factor=1.0, most_factor=1.0).age_hours
    7379.0
    >>> doubtful = relamp.least_regret(world, limit, least_factor=1.0, most_factor=4.0)
    >>> doubtful.age_hours < 7379.0, doubtful.regret_percent > 0.0
    (True, True)
    """

def life(name: str, /, **parameters: float) -> Life:
    """A life distribution of a family with its parameters.

    Parameters
    ----------
    name : str
        One of the names below, or one made of others: `above_zero(a)` cuts "normal", "logistic" or
        "smallest_extreme_value" at age 0; `series(a, b)`: two causes, whichever comes first; `mixture(a, b)`: two kinds
        of lamps; `never_fails(a)`: a share that never fails from this cause. Each may stand where a name may. In
        `piecewise_constant(...)` stand up to seven ages in hours, between which the hazard is constant.
    **parameters : float
        By name: "exponential": `scale`; "weibull", "log_logistic", "gamma", "birnbaum_saunders", "gompertz": `shape`,
        `scale`; "inverse_gaussian": `shape`, `mean`; "lognormal": `location` and `scale` of the logarithm of age;
        "weibull_failure_free": `shape`, `scale` and `location`, the failure-free time in hours; "generalised_gamma":
        `location`, `scale` and `shape`, 0 for a lognormal life and 1 for a Weibull one; "normal", "logistic",
        "smallest_extreme_value": `location`, `scale`; "piecewise_constant(...)": `hazard_1`, `hazard_2`, and so on, per
        hour. A shape has no unit, those of the logarithm of age have none either, all others are hours. "series" and
        "mixture": those of the first with `first_` before each, those of the second with `second_`, and for a mixture
        `first_share`, the share of the first kind. "never_fails": those of the lamps that fail, and `never_share`.
        A shape, scale, mean or hazard lies above 0 and is finite, a share above 0 and below 1. A location is any finite
        number, that of "weibull_failure_free" 0 or more; the `shape` of "generalised_gamma" is any finite one.

    Returns
    -------
    Life

    Raises
    ------
    InputError
        For an unknown family, parameters other than its own, and values that are not numbers.
    DomainError
        For a parameter out of its range.

    Notes
    -----
    "normal", "logistic" and "smallest_extreme_value" reach below age 0. They are for fitting; decisions take them only
    cut there and renormalised. A life with a share that never fails has an infinite mean and infinite late quantiles.

    Examples
    --------
    >>> import relamp
    >>> relamp.life("exponential", scale=1000.0).mean
    1000.0
    >>> relamp.life("log_logistic", shape=2.0, scale=1000.0).reliability(1000.0)
    0.5
    >>> relamp.life("above_zero(normal)", location=1500.0, scale=400.0).reliability(0.0)
    1.0
    >>> numbers = {"first_scale": 100.0, "second_scale": 1000.0, "first_share": 0.1}
    >>> mixed = relamp.life("mixture(exponential, exponential)", **numbers)
    >>> round(mixed.mean, 9)
    910.0
    >>> relamp.life("weibull_failure_free", shape=2.0, scale=900.0, location=300.0).quantile(1e-12) > 300.0
    True
    >>> life = relamp.life("piecewise_constant(500, 1000)", hazard_1=1e-4, hazard_2=2e-4, hazard_3=1e-3)
    >>> round(life.cumulative_hazard(1200.0), 12)
    0.35
    """

def life_bars(
    draws: Draws,
    limit: HourLimit,
    *,
    level: float = 0.95,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | DarkMinutes | None = None,
    progress: Progress | None = None,
) -> LifeBars:
    """The planned age over the draws with the life of one cause drawn at a time, all others at their estimates: where
    more records of one cause would settle the advice.

    The causes of a draw are refitted under common weights, so the widths of the bars do not add up to that of all
    causes together.

    Parameters
    ----------
    draws : Draws
        Worlds drawn from the records.
    limit : HourLimit
        No age in the answer passes it.
    level : float
        Probability that the bars are made for, above 0 and below 1.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit).
    objective : Discount or DarkMinutes, optional
        What is counted per hour; None for the cost.
    progress : callable, optional
        Called with (done, total) while it runs; an error in it, like Ctrl-C, stops the work.

    Returns
    -------
    LifeBars
        The interval of the planned age for each cause.

    Raises
    ------
    InputError
        For what is not a number or out of range, and advice past the records without a reason.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        For fewer than 20 draws, or too few that gave an answer.

    Examples
    --------
    >>> import relamp
    >>> ages = [100.0 + 7.0 * i for i in range(60)]
    >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
    >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    >>> draws = relamp.fit_causes(tally).draws(tally, costs, n=40, seed=1)
    >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
    >>> bars = relamp.life_bars(draws, limit, level=0.9)
    >>> bars.frame()["life"].to_list()
    ['every cause', 'burst', 'dim']
    """

def likelihood_ratio(
    tally: Tally,
    *,
    narrow: Fit,
    wide: Fit,
    endings: Sequence[str] | None = None,
) -> LikelihoodRatio:
    """Tests whether a family within a wider one is enough, by the likelihood ratio.

    The statistic is 2 (ln L wide - ln L narrow). Where the narrow family lies inside the range of the wide one the
    chance is that of chi-square with as many degrees of freedom as parameters are fixed. Where it lies on the edge of
    the range, as without a share that never fails or with a hazard that does not grow, it is half of that, and 1
    where the statistic is 0: half of the samples of the narrow family have their maximum on the edge. `law` names
    which. Both fits are checked to be of the records in the tally. A pair without such a law, a mixture among them,
    is refused: take `likelihood_ratio_bootstrap`.

    Parameters
    ----------
    tally : Tally
        The records.
    narrow : Fit
        Of the family with fewer parameters.
    wide : Fit
        Of the family that holds it.
    endings : list of str, optional
        The ones that were fitted.

    Returns
    -------
    LikelihoodRatio

    Raises
    ------
    InputError
        For a fit of other records, an unknown ending, and families of which one does not hold the other.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> even, wear = relamp.fit(tally, family="exponential"), relamp.fit(tally)
    >>> test = relamp.likelihood_ratio(tally, narrow=even, wide=wear)
    >>> test.restriction, test.degrees_of_freedom, test.p_value < 0.01
    ('shape is 1', 1, True)
    """

def likelihood_ratio_bootstrap(
    tally: Tally,
    *,
    narrow: str,
    wide: str,
    endings: Sequence[str] | None = None,
    replicates: int = 999,
    seed: int,
    progress: Progress | None = None,
) -> LikelihoodRatio:
    """Tests whether a family within a wider one is enough, by samples drawn from the narrow fit."""

def limit_stages(
    world: World,
    limit: HourLimit,
    *,
    stage_hours: float,
    most_share: float,
    cause: str = "burst",
    allowed: int = 0,
    level: float = 0.95,
    oldest_at_risk_hours: float | None = None,
) -> LimitPlan:
    """Stages that raise a chain's own limit to the maker's, with the lamps to try in each and when to stop.

    A trial runs lamps from the limit in force to the next. Counted are those that reach it or end in the watched way;
    what ends otherwise is replaced. It passes with `allowed` such endings or fewer and stops at the next, and then the
    limit stays. The lamps of a trial are the fewest with P(X <= allowed) <= 1 - level for X binomial of that many and
    `most_share`. No stage passes the maker's limit; where that is the limit in force, there is no plan.

    Parameters
    ----------
    world : World
        Causes with their lives, for the chance to pass and the lamps to enter; the costs play no part.
    limit : HourLimit
        The chain's own limit with the maker's behind it, as `hour_limit(limit_hours=..., reason=...)` gives it.
    stage_hours : float
        Hours by which each stage raises the limit, 1 or more; the last is cut at the maker's.
    most_share : float
        Largest share of lamps that may end so in one stage: 0.000001 or more and below 1.
    cause : str
        The watched ending, a word of `ENDINGS`.
    allowed : int
        How many may end so in a trial that passes, 0 to 1,000.
    level : float
        Confidence with which a passed trial shows the share to be below the largest, above 0 and below 1.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; stages past it rest on the model's opinion and say so.

    Returns
    -------
    LimitPlan

    Raises
    ------
    InputError
        For a step, a share, a count or a level out of range, and a step that makes more than 1,000 stages.
    RefusedError
        For an ending that no cause of the world stands for, and where no lamp reaches a stage.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=4.0, scale=9000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> own = relamp.hour_limit(
    ...     maximum_hours=2500.0, source="invented data sheet", limit_hours=2000.0, reason="the insurer asked for it"
    ... )
    >>> plan = relamp.limit_stages(world, own, stage_hours=300.0, most_share=0.05)
    >>> plan.frame()["to_hours"].to_list(), plan.frame()["lamps"].to_list()
    ([2300.0, 2500.0], [59, 59])
    >>> makers = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
    >>> relamp.limit_stages(world, makers, stage_hours=300.0, most_share=0.05).sentence
    "no plan: already at the maker's limit of 2,500 h"
    """

def lives(
    low: Column | TableLike,
    high: Column | None = None,
    *,
    entry: Column | None = None,
    upper: Column | None = None,
    ending: Column | None = None,
    stratum: Column | None = None,
    cluster: Column | None = None,
    count: Column | None = None,
    covariates: TableLike | Sequence[str] | None = None,
) -> Tally:
    """Builds a tally of censored lives from columns, or from one table with columns of these names.

    Parameters
    ----------
    low : array-like or table
        Ages in hours: at failure, last seen working, or the left end of an interval. A data frame, Arrow table or dict
        holds the columns `low` and `high` and any of the others by name.
    high : array-like, optional
        The same age for a failure at a known age, missing (None, null, NA) or infinite for a right-censored life, the
        right end for a failure known to an interval. NaN is refused. Left out: every life failed at `low`.
    entry : array-like, optional
        Age at which a life came under observation; 0 where missing.
    upper : array-like, optional
        Age past which a failure would not have been seen; infinite where missing.
    ending : array-like of str, optional
        Why each life ended, such as "burst"; see `ENDINGS`.
    stratum, cluster : array-like of str, optional
        Lamp class, and what shares a bootstrap weight, usually the site.
    count : array-like of whole numbers, optional
        How many lives each row stands for; 1 without it.
    covariates : dict or table of columns, or list of str, optional
        What lamps differ in beside their class: columns by name, numbers or texts, none with a missing value; beside a
        table the names of its columns. Whole numbers that only name something must be texts to be categories.

    Returns
    -------
    Tally

    Raises
    ------
    InputError
        Every row that breaks a rule, with row, column, value and what was expected.

    Examples
    --------
    >>> import relamp
    >>> relamp.lives([412.0, 655.0, 1200.0], [412.0, 655.0, None]).failures
    2
    >>> relamp.lives([1200.0, 412.0], [None, 412.0], count=[40, 1]).lamps
    41
    >>> relamp.lives([412.0, 655.0, 655.0], covariates={"supplier": ["north", "south", "south"]}).rows
    2
    """

def one_place_curve(on_way: Count, *, lamp: str, unit_cost: float, most_lamps: int) -> ClassCurve:
    """What each number of lamps leads to at one place without a depot.

    Parameters
    ----------
    on_way : Count
        Lamps on their way: those needed over the lead time.
    lamp : str
        Name of the lamp class.
    unit_cost : float
        Price of a lamp, above 0.
    most_lamps : int
        Lamps up to which the curve goes, at most 1,000.

    Returns
    -------
    ClassCurve
        Its shortfall is E(on way - lamps)+, screens waiting.

    Raises
    ------
    InputError
        For a price that is not above 0, and more than 1,000 lamps.

    Examples
    --------
    >>> import relamp
    >>> curve = relamp.one_place_curve(relamp.Count.poisson(1.0), lamp="2 kW", unit_cost=700.0, most_lamps=2)
    >>> [round(x, 4) for x in curve.frame()["shortfall"]]
    [1.0, 0.3679, 0.1036]
    """

def phases(
    tally: Tally,
    *,
    endings: Sequence[str] | None = None,
    replicates: int = 499,
    seed: int,
    progress: Progress | None = None,
) -> Phases:
    """Compares one Weibull life with two that meet at an age: a line with one bend on a probability plot."""

def place_service(
    places: Places,
    *,
    depot_stock: int,
    stock: Mapping[str, int],
    method: str | None = None,
) -> PlacesService:
    """What stock at a depot and its sites leads to in the long run.

    Lamps on their way to the depot are Poisson; what the depot is short of falls to the sites by their shares and adds
    to what is on its own way to each. Waiting screens = E(on way - stock)+, fill rate = P(on way <= stock - 1), no
    screen waiting = P(on way <= stock), dark hours a year = waiting screens x programme hours a day x 365.25.

    Parameters
    ----------
    places : Places
        The sites and their lead times.
    depot_stock : int
        Lamps the depot holds, at least 0.
    stock : dict
        Lamps by site; a site that is not named holds none.
    method : str, optional
        `exact` for needs by chance; `means`, a Poisson count with the right mean, which understates waiting; or
        `two_moments`, with the right mean and variance. Without it exact where it can be, else two moments.

    Returns
    -------
    PlacesService

    Raises
    ------
    InputError
        For a site that is not there, lamps that are no whole numbers of at least 0, and another method.
    RefusedError
        For a ratio of variance to mean outside 0.8 to 2, and `exact` where needs do not come by chance.

    Examples
    --------
    >>> import relamp
    >>> places = relamp.places(["north", "south"], [0.05, 0.05], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
    >>> few = relamp.place_service(places, depot_stock=0, stock={"north": 1, "south": 1})
    >>> more = relamp.place_service(places, depot_stock=4, stock={"north": 1, "south": 1})
    >>> few.method, more.dark_hours_per_year < few.dark_hours_per_year / 5
    ('exact', True)
    """

def places(
    sites: Sequence[str],
    needed_per_day: Column,
    *,
    maker_days: float | None = None,
    depot_days: float | Column | None = None,
    hours_per_day: float | Column,
    variance_to_mean: float | Column | None = None,
    local_share: float | Column | None = None,
    local_days: float | Column | None = None,
) -> Places:
    """Sites that hold spares and are filled from one depot.

    Each lamp taken is ordered anew at once, one by one; first come is first filled.

    Parameters
    ----------
    sites : list of str
        Names of the sites, each once.
    needed_per_day : array-like
        Mean lamps needed a day at each site, at least 0.
    maker_days : float, optional
        Mean days from the maker to the depot; needed unless every site buys nearby only.
    depot_days : float or array-like, optional
        Days from the depot to each site; needed unless it buys nearby only.
    hours_per_day : float or array-like
        Programme hours a day of one screen, which are dark while it waits, 0 to 24.
    variance_to_mean : float or array-like
        Variance of the lamps needed in a time over their mean, at least 0; 1 where needs come by chance.
    local_share : float or array-like
        Share of needs filled from a dealer nearby, 0 to 1.
    local_days : float or array-like, optional
        Days from that dealer.

    Returns
    -------
    Places

    Raises
    ------
    InputError
        For a name that is blank or stands twice, numbers out of range, and a lead time that is needed and missing.

    Examples
    --------
    >>> import relamp
    >>> places = relamp.places(["north", "south"], [0.05, 0.08], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
    >>> places.sites
    ('north', 'south')
    """

def planned_age(
    world: World,
    limit: HourLimit,
    *,
    todays_rule_hours: float | None = None,
    near_percent: float = 2.0,
    least_saving_percent: float = 0.1,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | DarkMinutes | None = None,
) -> PlannedAge:
    """The age that minimises the long-run cost per hour among the ages the limit allows.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        No age in the answer passes it.
    todays_rule_hours : float, optional
        The age at which lamps are changed today, hours, to compare with.
    near_percent : float
        Ages count as near the best up to this much more cost, percent.
    least_saving_percent : float
        An earlier change than at the limit is advised only if it saves at least this much, percent.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given. Today's rule
        stays where it lies past that age and costs less than the age that would be advised (`todays_rule_stays`).
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit).
    objective : Discount or DarkMinutes, optional
        What the age is chosen by; None for the cost per hour.

    Returns
    -------
    PlannedAge

    Raises
    ------
    InputError
        For what is not a number or out of range, and advice past the records without a reason.
    RefusedError
        Where no age has a finite cost, or the best one lies below one hour.

    Examples
    --------
    A shape of 2 and a failure that costs three times a planned change: 0.7379 of the scale (the standard result).

    >>> import relamp
    >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=3000.0))
    >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
    >>> relamp.planned_age(world, limit).age_hours
    7379.0

    With money that loses 5 percent a year the change waits a little; in dark time it depends on the minutes alone.

    >>> later = relamp.discount(rate_per_year=0.05, hours_per_year=4000.0)
    >>> relamp.planned_age(world, limit, objective=later).age_hours
    7492.0
    >>> dark = relamp.dark_minutes(60.0, burst=600.0)
    >>> relamp.planned_age(world, limit, objective=dark).age_hours
    3364.0
    """

def planned_age_interval(
    draws: Draws,
    limit: HourLimit,
    *,
    level: float = 0.95,
    todays_rule_hours: float | None = None,
    near_percent: float = 2.0,
    least_saving_percent: float = 0.1,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | DarkMinutes | None = None,
    parts: CostParts | None = None,
    seed: int = 0,
    progress: Progress | None = None,
) -> AgeInterval:
    """What the draws make of the planned age: intervals of age, cost and saving.

    Parameters
    ----------
    draws : Draws
        Possible worlds, as `CauseFits.draws` gives them; 20 or more.
    limit : HourLimit
        No age in the answer passes it.
    level : float
        Level of every interval, above 0 and below 1.
    todays_rule_hours : float, optional
        The age at which lamps are changed today, hours, to compare with.
    near_percent : float
        Ages count as near the best up to this much more cost, percent.
    least_saving_percent : float
        An earlier change than at the limit is advised only if it saves at least this much, percent.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit).
    objective : Discount or DarkMinutes, optional
        What the age is chosen by; None for the cost per hour.
    parts : CostParts, optional
        Ranges of costs; the estimates take the middle and each draw costs of its own, in place of those of the draws.
    seed : int
        Seed of the drawn costs, from 0.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    AgeInterval

    Raises
    ------
    InputError
        For what is not a number or out of range, and advice past the records without a reason.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        For fewer than 20 draws, or too few that gave an answer.

    Examples
    --------
    >>> import relamp
    >>> ages = [100.0 + 7.0 * i for i in range(60)]
    >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
    >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    >>> draws = relamp.fit_causes(tally).draws(tally, costs, n=40, seed=1)
    >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
    >>> interval = relamp.planned_age_interval(draws, limit, level=0.9, todays_rule_hours=450.0)
    >>> low, high = interval.age_hours
    >>> low <= high <= limit.hours, interval.beats_todays_rule is not None
    (True, True)

    Where costs are known to ranges only:

    >>> dark = relamp.dark_minutes(45.0, burst=360.0, dim=90.0)
    >>> parts = relamp.cost_parts(
    ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=(1.0, 9.0), dark=dark
    ... )
    >>> relamp.planned_age_interval(draws, limit, level=0.9, parts=parts, seed=1).draws
    40
    """

def planned_changes(
    age_hours: Column,
    *,
    hours_per_week: float | Column,
    planned_age_hours: float,
    limit: HourLimit,
    periods: int = 6,
    period_days: float = 30.4375,
) -> Table:
    """Lamps that changes on plan need, period by period, if no lamp fails: a lower bound of the lamps needed by then.

    By the end of u hours a screen needs floor((a + u) / T) lamps, and 1 + floor(u / T) where its lamp is at or past
    T or of unknown age; a: age of the lamp that burns today, T: planned age. No model goes in, so the bound holds
    whatever the life of the lamps is: a failure only brings a change forward.

    Parameters
    ----------
    age_hours : array-like
        Ages of the lamps that burn today, hours; a missing one (None, null) is not known and counts as due.
    hours_per_week : float or array-like
        Programme hours of the screens, 0 to 168.
    planned_age_hours : float
        Age of the planned change, hours; held to the limit.
    limit : HourLimit
        The age that no lamp may pass.
    periods : int
        How many, 1 or more.
    period_days : float
        Length of each, days, 0 or more; a month by default. With 0 days nothing is needed, not even for
        lamps that are due today, which are counted apart.

    Returns
    -------
    Table
        One row for each period, with its number, the changes in it if no lamp fails, and those from today to its end,
        which are the lower bound.

    Raises
    ------
    InputError
        For ages or hours that are not numbers or out of range, and `periods` that is no whole number.
    DomainError
        For a horizon of no period, or of more than 20 years.

    Examples
    --------
    At 10 h a day the first lamp has 100 h left, the second 400 h, and the third is of unknown age:

    >>> import relamp
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> plan = relamp.planned_changes(
    ...     [1900.0, 1600.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit,
    ...     periods=2, period_days=28.0,
    ... )
    >>> plan.frame().rows()
    [(1, 2, 2), (2, 1, 3)]
    """

def play_chain(
    model: World | Draws,
    *,
    site: Column,
    age_hours: Column,
    hours_per_week: float | Column,
    as_of: date | str,
    limit: HourLimit,
    planned_age_hours: float,
    on_hand: int,
    lead_time_days: float | Column,
    seed: int,
    months: int = 12,
    weights: Column | None = None,
    base_stock: int | None = None,
    quantity: int = 1,
    order_up_to: int | None = None,
    review_days: float = 0.0,
    site_days: float | None = None,
    site_stock: Mapping[str, int] | None = None,
    emergency_days: float | None = None,
    emergency_cost: float = 0.0,
    while_dark: str = "clock_stops",
    costs: StockCosts | None = None,
    show_hours: float = 2.0,
    programme: Column | None = None,
    programmes: Mapping[str, Mapping[str, Any]] | None = None,
    stop: Sequence[Any] | None = None,
    replicates: int = 100,
    warm_up_days: float = 0.0,
    progress: Progress | None = None,
) -> PlayedChain:
    """Plays a chain out with its stock, event by event: when lamps are needed, what is on the shelf, and who waits.

    Each screen needs a lamp when its own burns to its failure or to the planned age, by programme hours;
    the store orders by its rule, and each order takes a lead time of its own. A figure is the mean over the plays, with
    its standard error. The same seed gives the same bytes on any number of threads.

    Parameters
    ----------
    model : World or Draws
        Causes of failure. With draws each play is of one of them, in their order and again from the first, so that
        distributions and spreads are mixed over what is not known of the life too; standard errors are those of the
        plays about the mean over these draws. Take a multiple of their number as `replicates`.
    site : array-like
        Names, one for each screen.
    age_hours : array-like
        Ages of the lamps at the start of the as-of date, hours; a missing one (None, null) is not known and counts as
        due.
    hours_per_week : float or array-like
        Programme hours of an ordinary week, 0 to 168.
    as_of : date or str
        The first day.
    limit : HourLimit
        The age that no lamp passes.
    planned_age_hours : float
        Age of the planned change, hours above 0; held to the limit.
    on_hand : int
        Lamps on the shelf of the store at the start, 0 or more.
    lead_time_days : float or array-like
        Days from order to delivery, 0 to 7,310; several are drawn from, for each order by itself.
    seed : int
        Seed of the draws, 0 or more.
    months : int
        Calendar months to play, 1 to 240; the first runs from the as-of date to its end.
    weights : array-like, optional
        How likely each lead time is, a finite weight of at least 0 each; alike without it.
    base_stock : int, optional
        One above the order point, 0 or more lamps; without it nothing is ordered.
    quantity : int
        Lamps in one order, 1 or more: 1 orders each lamp when it is used.
    order_up_to : int, optional
        Position after an order, in place of a quantity, `base_stock` or more lamps.
    review_days : float
        Days between two looks at the shelf, 0 to 7,310; 0 where it is watched all the time.
    site_days : float, optional
        Days from the store's shelf to a site, 0 to 7,310; without it the store serves every screen at once.
    site_stock : dict, optional
        Lamps that a site holds, by its name; a site that is not named holds none.
    emergency_days : float, optional
        Days, 0 to 7,310, in which a lamp comes from elsewhere to a screen that would wait; without it a screen waits.
    emergency_cost : float
        What one of these costs, 0 to 1e12.
    while_dark : str
        'clock_stops': a dark screen burns nothing, and a lamp due on plan burns on until a lamp comes, it fails or it
        stands at the limit. 'clock_runs': lamps are needed as if one were always there, as by the formulas.
    costs : StockCosts, optional
        What holding, ordering and waiting cost.
    show_hours : float
        Hours of a show, above 0, to turn dark hours into shows for the costs.
    programme : array-like, optional
        Names, one for each screen; a missing one stands for the same hours every day.
    programmes : dict, optional
        By name, as for `chain_forecast`.
    stop : list, optional
        For each screen when it stops, as for `chain_forecast`.
    replicates : int
        Plays of the whole chain, at least 1; standard errors need two.
    warm_up_days : float
        Days at the start, 0 or more, that are not counted in the figures of places, orders and costs.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    PlayedChain

    Raises
    ------
    InputError
        For another model than a world or draws, for every wrong row and number of the supply at once, and columns of
        different length.
    DomainError
        For another number of months than 1 to 240, no replicate, and a warm-up as long as the months.
    LimitError
        For more plays than one call may hold.
    RefusedError
        For a life that reaches below age 0, where no draw gives a world, and where one screen would need thousands of
        lamps.

    Examples
    --------
    Nothing on the shelf, and a screen is dark for the ten days of each order:

    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=1e9)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
    >>> played = relamp.play_chain(
    ...     world, site=["north"], age_hours=[900.0], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
    ...     planned_age_hours=1000.0, on_hand=0, base_stock=0, lead_time_days=10.0, seed=1, months=3,
    ... )
    >>> played.frame()["dark_hours"].round(6).to_list(), played.ever_short
    ([100.0, 0.0, 0.0], 1.0)
    """

def play_fleet(
    world: World,
    age_hours: Column,
    *,
    hours_per_week: float | Column,
    limit: HourLimit,
    change: str,
    seed: int,
    planned_age_hours: float | None = None,
    visit_age_hours: float | None = None,
    join_changes: bool = False,
    calendar_days: float | None = None,
    calendar_first_day: float | None = None,
    calendar_from_hours: float | None = None,
    visits_days: float | None = None,
    visits_first_day: float | None = None,
    visits_mean_days: float | None = None,
    visit_cost: float = 0.0,
    sites: Column | None = None,
    dark_minutes: DarkMinutes | Mapping[str, float] | None = None,
    discount: Discount | None = None,
    periods: int = 12,
    period_days: float = 30.4375,
    replicates: int = 100,
    progress: Progress | None = None,
) -> PlayedFleet:
    """Plays a fleet out event by event: what a rule of change brings if the world is as given.

    Every lamp draws its life from the world; screens burn their weekly hours evenly; a failed lamp is changed at once.
    No lamp burns past the limit: one that reaches it before its turn is changed alone. Spares are taken as always at
    hand. Lamps past their age or the limit, or of unknown age, are changed at the start.

    Parameters
    ----------
    world : World
        Causes of failure and costs of a change, without the visit.
    age_hours : array-like
        Ages of the lamps that burn today, hours; a missing one (None, null) is not known.
    hours_per_week : float or array-like
        Programme hours of the screens, 0 to 168.
    limit : HourLimit
        The age that no lamp passes.
    change : str
        When lamps that work are changed: "at_failure" (only at the limit), "at_age", "at_age_or_visit" (at an age, or
        from an earlier one at a visit that happens anyway), "site_together" (all lamps of a site when one reaches the
        age) or "on_calendar" (all lamps on fixed days).
    seed : int
        Seed of the draws.
    planned_age_hours : float, optional
        Age of the planned change, hours above 0; held to the limit. For all ways but the first and the last.
    visit_age_hours : float, optional
        Age from which a visit is used, hours. For "at_age_or_visit".
    join_changes : bool
        Whether a visit for the change of another lamp of the site is used too. For "at_age_or_visit".
    calendar_days : float, optional
        Days from one change on the calendar to the next, at least 0.01. For "on_calendar".
    calendar_first_day : float, optional
        Day of the first such change, days from the start; by default after one distance.
    calendar_from_hours : float, optional
        Lamps younger than this stay, hours; by default none does.
    visits_days : float, optional
        Days from one visit that happens anyway to the next, at every site, at least 0.01.
    visits_first_day : float, optional
        Day of the first of these visits, days from the start; by default drawn evenly, site by site.
    visits_mean_days : float, optional
        Mean days between visits that happen anyway at random; instead of `visits_days`.
    visit_cost : float
        Cost of a visit made for lamps alone, 0 or more.
    sites : array-like, optional
        The site of each screen; by default every screen is a site of its own.
    dark_minutes : DarkMinutes or dict, optional
        Minutes that a screen stays dark for one change: `planned`, and every failure of the world or none.
    discount : Discount, optional
        How much less money is worth the later it comes; None to count no discounted cost. The clock is the hours that a
        screen has burned from the start, for a visit the mean of them over the screens of its site.
    periods : int
        How many, 1 or more.
    period_days : float
        Length of each, days above 0; a month by default.
    replicates : int
        Plays of the whole fleet, at least 1; standard errors need two plays of every site or its equal.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    PlayedFleet

    Raises
    ------
    InputError
        For ages, hours, days, costs or minutes that are not numbers or out of range, a way of changing that is not
        there, an argument that it needs or does not take, and columns of different length.
    DomainError
        For a horizon of no time or of more than 20 years, and for no replicate.
    LimitError
        For more plays than one call may hold.
    RefusedError
        For a life that reaches below age 0, and where one screen would need thousands of lamps.

    Examples
    --------
    Two screens of one site, changed at 2000 h, or from 1500 h on at a monthly round:

    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> played = relamp.play_fleet(
    ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age_or_visit",
    ...     planned_age_hours=2000.0, visit_age_hours=1500.0, visits_days=28.0, sites=["north", "north"],
    ...     replicates=200, seed=1,
    ... )
    >>> len(played), played.due_now
    (12, 0)
    >>> played.cost_error < 0.1 * played.cost
    True

    The same screens changed at 2000 h alone, with dark minutes, and what the cost of a year is worth at its start:

    >>> dark = relamp.dark_minutes(45.0, burst=360.0)
    >>> played = relamp.play_fleet(
    ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age", planned_age_hours=2000.0,
    ...     dark_minutes=dark, discount=relamp.discount(rate_per_year=0.05, hours_per_year=3652.5),
    ...     replicates=200, seed=1,
    ... )
    >>> 0.95 < played.discounted_cost / played.cost < 1.0
    True
    >>> played.dark_minutes_per_1000_hours > 45.0 / 2.0
    True
    """

def plotting_positions(tally: Tally, *, rule: str = "median") -> PlottingPositions:
    """Adjusted ranks and plotting positions of the failures of a right-censored sample.

    A failure's rank is that of the failure before plus (n + 1 - rank before) / (n + 1 - lamps that left before it).
    Rows known to an interval, left-censored rows, late entry and windows have no ranks and are refused, each by name.

    Parameters
    ----------
    tally : Tally
        The records.
    rule : {"median", "benard"}
        The exact median rank, or Benard's approximation (rank - 0.3) / (n + 0.4).

    Returns
    -------
    PlottingPositions

    Raises
    ------
    InputError
        For an unknown rule.
    RefusedError
        For rows that have no rank, each by name.

    Examples
    --------
    >>> import relamp
    >>> points = relamp.plotting_positions(relamp.lives([100.0, 150.0, 200.0], [100.0, None, 200.0]))
    >>> points.ranks.tolist(), points.positions.round(4).tolist()
    ([1.0, 2.5], [0.2063, 0.6475])
    >>> relamp.plotting_positions(relamp.lives([100.0, 200.0]), rule="benard").positions.round(4).tolist()
    [0.2917, 0.7083]
    """

def poisson_shortcut(needed: Count, *, service_target: float) -> PoissonShortcut:
    """The stock for a wanted chance of no shortage from the whole distribution of the number needed, beside the
    shortcut that keeps only its mean.

    Parameters
    ----------
    needed : Count
        Lamps needed over the lead time, by the ages of the lamps: `forecast(..., periods=1,
        period_days=lead_time_days).needed(1)`.
    service_target : float
        Wanted chance of no shortage, above 0 and at most 1.

    Returns
    -------
    PoissonShortcut

    Raises
    ------
    InputError
        For a target that is not a number above 0 and at most 1.

    Examples
    --------
    >>> import relamp
    >>> found = relamp.poisson_shortcut(relamp.Count.poisson(4.0), service_target=0.95)
    >>> found.level, found.stock_error
    (8, 0)
    """

def pool_groups(
    tally: Tally,
    *,
    by: str,
    family: str = "weibull",
    strata: Sequence[str] | None = None,
    prior_scales: Sequence[float] | None = None,
    threshold: float = 1.5,
    level: float = 0.95,
    draws: int = 4000,
    seed: int,
    endings: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> PooledGroups:
    """Pools groups of lamps: each has a hazard of its own, drawn towards that of the fleet as far as its records are
    few.

    The hazard of a group is exp(u) times the baseline of its stratum, u normal with mean 0 and standard deviation s
    over the
    groups. s has a half-normal prior, whose scale is stated and varied. Ratios are to the hazard of the other groups
    together. Exact failures, intervals, late entry and counts enter.

    Parameters
    ----------
    tally : Tally
        The records.
    by : str
        What the groups are: a category among the covariates, such as "site", or "stratum" or "cluster" for those of
        the lives.
    family : str
        Family of the baselines, as in `fit`, but "weibull_failure_free".
    strata : list of str, optional
        Categories whose levels have baselines of their own. Without it the strata of the lives do, unless they are
        pooled.
    prior_scales : sequence of float
        Three scales of the prior or more: the first gives the answers, the others show how far those lean on it.
    threshold : float
        Hazard ratio to the rest, above 0, past which a group is worth a look.
    level : float
        Level of the intervals, inside 0 to 1.
    draws : int
        Draws, 500 to 200,000; with 4,000 a chance is right to about 0.01.
    seed : int
        Seed of the draws.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    PooledGroups

    Raises
    ------
    InputError
        For an unknown category, lamps without a group, fewer than two groups that were at risk, and what is out of
        range.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        As in `fit`; for records that show failures only, and draws that do not settle.

    Examples
    --------
    >>> import relamp
    >>> site = ["a", "b", "c", "d", "e", "f"] * 10
    >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"site": site})
    >>> pooled = relamp.pool_groups(tally, by="site", draws=500, seed=1)
    >>> frame = pooled.frame()
    >>> frame["group"].to_list()
    ['a', 'b', 'c', 'd', 'e', 'f']
    >>> all(abs(1 - ratio) <= abs(1 - raw) for ratio, raw in zip(frame["ratio"], frame["raw_ratio"]))
    True
    """

def pooling(
    places: Places,
    *,
    depot_stock: int,
    stock: Mapping[str, int],
    transfer_cost: float,
    method: str | None = None,
) -> Pooling:
    """What one stock for all sites saves, or emergency transfers between sites do.

    Waiting screens with one stock = E(X - S)+, X the lamps on their way to all sites and S all lamps at the sites; the
    lamps for the same are the fewest with which no more screens wait than apart. A transfer takes no time.

    Parameters
    ----------
    places : Places
        The sites and their lead times.
    depot_stock : int
        Lamps the depot holds, at least 0.
    stock : dict
        Lamps by site; a site that is not named holds none.
    transfer_cost : float
        Cost of one transfer, at least 0.
    method : str, optional
        As for `place_service`.

    Returns
    -------
    Pooling

    Raises
    ------
    InputError
        For a site that is not there, lamps that are no whole numbers of at least 0, and a cost below 0.
    RefusedError
        As for `place_service`.

    Examples
    --------
    >>> import relamp
    >>> places = relamp.places(list("abcd"), [0.05] * 4, maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
    >>> pooled = relamp.pooling(places, depot_stock=0, stock=dict.fromkeys("abcd", 2), transfer_cost=60.0)
    >>> pooled.lamps_saved
    2
    """

def posterior(
    tally: Tally,
    *,
    family: str = "weibull",
    percent: float = 10.0,
    b_life: Sequence[float] | None = None,
    shape: Sequence[float] | None = None,
    draws: int = 1000,
    seed: int,
    endings: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> Posterior:
    """Combines a prior on interpretable quantities with the records, by adaptive quadrature."""

def power_law(
    sockets: Sockets,
    *,
    estimate: str = "maximum_likelihood",
    ended: str = "time",
    level: float = 0.95,
) -> PowerLaw:
    """Fits a power-law process to the failures of sockets, one law for all of them.

    The rate at age t is scale shape t^(shape - 1) failures of a socket for each unit of age, however long ago its lamp
    was fitted: for screens that get worse, not for lamps that wear out. IEC 61164 prints the unbiased estimate,
    MIL-HDBK-189 the maximum of the likelihood. All sockets are taken to be alike: where they differ, the intervals are
    too short, and the note `fit.uneven_sockets` says so.

    Parameters
    ----------
    sockets : Sockets
        The sockets.
    estimate : {"maximum_likelihood", "unbiased"}
        The unbiased shape is known for watches from 0 to one common age only.
    ended : {"time", "failure"}
        What ended the watches.
    level : float
        Level of the intervals, inside (0, 1).

    Returns
    -------
    PowerLaw

    Raises
    ------
    InputError
        For another word than those above, and what is not a number.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        Without a failure, where the likelihood has no maximum, and where the unbiased estimate is not known.

    Examples
    --------
    >>> import relamp
    >>> one = relamp.sockets([1000.0], [[500.0, 800.0, 950.0]])
    >>> round(relamp.power_law(one).shape, 4), round(relamp.power_law(one, estimate="unbiased").shape, 4)
    (3.1005, 2.067)
    """

def power_law_distance(sockets: Sockets, *, replicates: int = 1000, seed: int = 1) -> PowerLawDistance:
    """Distance of the failures of sockets watched from 0 to one age from a power law, with its p value by simulation.

    Parameters
    ----------
    sockets : Sockets
        Sockets watched from 0 to one common age.
    replicates : int
        How many samples to simulate.
    seed : int
        Same seed, same p value.

    Returns
    -------
    PowerLawDistance

    Raises
    ------
    InputError
        For too many replicates, and what is no whole number.
    DomainError
        For no replicates.
    RefusedError
        For other watches, with fewer than two failures, and where the likelihood has no maximum.

    Examples
    --------
    >>> import relamp
    >>> one = relamp.sockets([1001.0], [[50.0 * i for i in range(1, 21)]])
    >>> relamp.power_law_distance(one, replicates=200, seed=1).p_value > 0.5
    True
    """

def price_scenarios(
    world: World,
    limit: HourLimit,
    *,
    scenarios: dict[str, Costs],
    weights: Column | None = None,
    near_percent: float = 2.0,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | None = None,
) -> PriceScenarios:
    """The planned age under each of several sets of prices, what the advice of one costs under another, and the ages
    that are least wrong over all.

    The regret of an age under a scenario is what it costs there above the least of that scenario, percent. The age of
    least regret makes the largest of them least, whatever the weights; that of least mean cost weighs the scenarios.

    Parameters
    ----------
    world : World
        Causes with their lives; its own costs play no part.
    limit : HourLimit
        No age in the answer passes it.
    scenarios : dict of str to Costs
        The costs under each scenario, by its name, with a warranty and a salvage where they have one.
    weights : array-like, optional
        How much each counts in the mean, 0 or more, in the order of the scenarios; None for all alike.
    near_percent : float
        Ages count as near the best up to this much more cost, percent.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit), in words.
    objective : Discount, optional
        What is counted per hour; None for the cost.

    Returns
    -------
    PriceScenarios

    Raises
    ------
    InputError
        For no scenarios, what are no costs, weights out of range, an ending without a cost, and dark minutes.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
    >>> today = relamp.costs(1000.0, burst=3000.0)
    >>> world = relamp.world({"burst": life}, today)
    >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
    >>> asked = {"as today": today, "dear shows": relamp.costs(1000.0, burst=10_000.0)}
    >>> found = relamp.price_scenarios(world, limit, scenarios=asked, weights=[2.0, 1.0])
    >>> {name: planned.age_hours for name, planned in found.planned.items()}
    {'as today': 7379.0, 'dear shows': 3364.0}
    >>> 3364.0 < found.least_regret_hours < 7379.0
    True
    """

def probability_plot(curve: Curve, *, family: str | None = None, fit: Fit | None = None) -> ProbabilityPlot:
    """Puts a curve on the scales on which the lives of a family are straight lines, with bands.

    Each point stands at the middle of its step. The bands are those of the failed share after the step, on the scale of
    asin(sqrt R): at one age at a time, and Nair's equal-precision band for all ages together.

    Parameters
    ----------
    curve : Curve
        From new; its level is that of both bands.
    family : str, optional
        "weibull" without it. A family with a location and a scale: "exponential", "weibull", "lognormal",
        "log_logistic", "normal", "logistic", "smallest_extreme_value".
    fit : Fit, optional
        In place of `family`: a fit of any family. Where its family has no scales of its own, the fitted life makes
        them: the vertical place of a share is the logarithm of the age by which the life has failed with it, so the
        life is the diagonal.

    Returns
    -------
    ProbabilityPlot

    Raises
    ------
    InputError
        For a family that is no straight line on any such scale without a fit, and for both family and fit.
    RefusedError
        For a curve without failures, one that does not start from new, and a share that the fitted life never reaches.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> plot = relamp.probability_plot(relamp.product_limit(tally), family="lognormal")
    >>> plot.shares[:2].round(2).tolist(), round(plot.scale_share(0.975), 2)
    ([0.05, 0.15], 1.96)
    >>> life = relamp.fit(tally, family="lognormal").life
    >>> line = plot.scale_share(life.failure_probability([300.0, 600.0]))
    >>> gamma = relamp.fit(tally, family="gamma")
    >>> plot = relamp.probability_plot(relamp.product_limit(tally), fit=gamma)
    >>> bool(abs(plot.scale_share(0.5) - plot.scale_age(gamma.life.quantile(0.5))) < 1e-9)
    True
    """

def product_limit(
    tally: Tally,
    *,
    level: float = 0.95,
    reading: str | None = None,
    min_at_risk: int = 5,
    given_survival_to: float | None = None,
    band_scale: str = "log_log",
    hazard_scale: str = "log",
) -> Curve:
    """Estimates reliability and cumulative hazard of the lamps of a tally without assuming a family.

    R is the product over failure ages of (n - d) / n, its variance R^2 times the sum of d / (n (n - d)); H is the sum
    of d / n, its variance the sum of d / n^2 (Aalen, 1978). n: lamps at risk; d: failures.

    Parameters
    ----------
    tally : Tally
        The records.
    level : float
        Level of the bands, inside (0, 1).
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.
    min_at_risk : int
        With late entry, the curve starts at the first age from which this many lamps are at risk.
    given_survival_to : float, optional
        Starts the curve at this age, hours: it then holds for lamps that reached it.
    band_scale : {"log_log", "log", "plain", "arcsine"}
        The transformation of the reliability R on which the band is symmetric: ln(-ln R), ln R, R itself, or
        asin(sqrt R).
    hazard_scale : {"log", "plain", "arcsine"}
        The transformation of the cumulative hazard H on which its band is symmetric: ln H, H itself, or
        asin(sqrt(exp(-H))).

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        For an unknown reading or scale, and what is not a number.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        Where no lamps, or too few, are at risk, and for failures known to an interval without a reading.

    Examples
    --------
    >>> import relamp
    >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0], [100.0, None], count=[1, 9]), level=0.9)
    >>> curve.reliability_at([50.0, 150.0]).tolist()
    [1.0, 0.9]
    """

def profile_corrected(
    fit: Fit,
    tally: Tally,
    *,
    endings: Sequence[str] | None = None,
    parameter: str | None = None,
    quantile: float | None = None,
    b_life: float | None = None,
    reliability: float | None = None,
    hazard: float | None = None,
    mean: bool = False,
    failure_within: tuple[float, float] | None = None,
    function: Callable[[Life], float] | None = None,
    scale: str = "plain",
    level: float = 0.95,
    replicates: int = 400,
    seed: int,
    progress: Progress | None = None,
) -> Interval:
    """A profile interval whose likelihood ratio is divided by its simulated mean: for few failures.

    Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean`, `failure_within` and
    `function` says of what.

    Twice the fall of ln L from its maximum to the true value is chi-square with mean 1 in large samples. In small
    ones its mean m is larger, and a plain profile interval holds the truth less often than it says. Here m comes from
    samples that are simulated from the fitted life and fitted again, and the interval holds every value at which ln L
    lies within m z^2 / 2 of its maximum (Bartlett 1937, Lawley 1956). A sample draws the life of every lamp and censors
    it; a lamp that failed gets a censoring age from the product-limit curve of the censoring. Late entry, windows and
    failures known to an interval are refused. Both ends belong together: neither is a bound by itself.

    Parameters
    ----------
    fit : Fit
        The fit.
    tally : Tally
        The one that was fitted.
    endings : list of str, optional
        The ones that were fitted.
    parameter : str, optional
        Name of a parameter.
    quantile : float, optional
        Asks for the age by which this share has failed, inside 0 to 1.
    b_life : float, optional
        Asks for the age by which this many percent have failed, inside 0 to 100.
    reliability : float, optional
        Asks for the probability to pass this age, hours.
    hazard : float, optional
        Asks for the failures per hour at this age, hours.
    mean : bool
        Asks for the mean age at failure.
    failure_within : (float, float), optional
        Age and hours: asks for the probability that a lamp of this age fails within these hours.
    function : callable, optional
        Asks for a function of a `Life` that gives a number; its slopes are taken numerically.
    scale : {"plain", "positive", "share"}
        For a function: where its interval is made; "positive" on its logarithm, "share" between 0 and 1.
    level : float
        Confidence level, inside 0 to 1.
    replicates : int
        How many samples are simulated, 99 or more.
    seed : int
        0 to 2^64 - 1. Same seed, same interval, for any number of threads.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end; not where a function is asked for.

    Returns
    -------
    Interval
        Its `ratio` holds the mean that was used.

    Raises
    ------
    InputError
        For another tally than the fitted one, none or more than one quantity, an unknown parameter or ending, a level
        out of range, fewer than 99 replicates or more than 10,000,000, and what is no number.
    DomainError
        For a share, percentage or age out of range.
    RefusedError
        For rows other than exact and right-censored from new, a parameter that the records do not settle or that is
        held where it ends, and where more than a quarter of the samples have no fit.
    LimitError
        For more than 100,000 lamps.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> fit = relamp.fit(tally)
    >>> plain = fit.profile(tally, parameter="shape")
    >>> corrected = relamp.profile_corrected(fit, tally, parameter="shape", seed=1)
    >>> corrected.low < plain.low < plain.high < corrected.high
    True
    >>> 1.0 < corrected.ratio["mean"] < 1.6
    True
    """

def proportional_hazards(
    tally: Tally,
    *,
    terms: Sequence[str],
    references: Mapping[str, str] | None = None,
    laws: Mapping[str, Mapping[str, str | float]] | None = None,
    value_is: Mapping[str, str] | None = None,
    strata: Sequence[str] | None = None,
    robust: bool = False,
    endings: Sequence[str] | None = None,
) -> HazardFit:
    """Fits proportional hazards by partial likelihood: covariates multiply a hazard whose shape is left open.

    h(t) = h0(t) exp(eta), eta the sum of coefficients times columns. Ties by Efron; a lamp that enters late is at
    risk after
    its entry. h0 is that of the baseline lamp: at the reference levels, the references of laws, the mean of other
    numbers.

    Parameters
    ----------
    tally : Tally
        The records, with covariates: exact failures and right-censored lives, late entry.
    terms, references, laws, value_is
        As in `fit_covariates`.
    strata : list of str, optional
        Categories whose levels have hazards of their own; "stratum" for the strata of the tally.
    robust : bool
        Whether standard errors stand up to lives of one cluster that go alike, and to hazards that are not
        proportional.
        Variances are raised by G / (G - 1 - k) for G clusters and k coefficients, and intervals take Student's t;
        below 40
        clusters a note says that they are too short.
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.

    Returns
    -------
    HazardFit

    Raises
    ------
    InputError
        As in `fit_covariates`; for strata that are no categories or terms too.
    RefusedError
        As in `fit_covariates`; for failures known to an interval only, and records that show failures only; for
        `robust` with
        fewer than two more clusters than coefficients.

    Examples
    --------
    >>> import relamp
    >>> site = ["a", "b"] * 6
    >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
    >>> tally = relamp.lives(low, covariates={"site": site})
    >>> fit = relamp.proportional_hazards(tally, terms=["site"])
    >>> fit.hazard_ratios["site=b"] < 1.0
    True
    """

def purchase_list(
    forecast: Forecast,
    over_lead: Count,
    *,
    lead_time_days: int,
    service_target: float,
    price: float,
    on_hand: int = 0,
    on_order: int = 0,
    on_order_later: Sequence[tuple[int, int]] | None = None,
    box_lamps: int = 1,
    minimum_order_lamps: int = 1,
) -> PurchaseList:
    """What to order now and for each coming period, so that the chance of a shortage stays within the target.

    Today's order is that of `stock_level`. Each later one comes on the day on which the level of the needs so far
    passes the lamps bought before, less the lead time; that day errs on the early side by less than a period, so
    forecast by weeks to have it near. A box or a smallest order may ask for more, which serves later periods. The
    chance of a shortage is that of each period's end by itself, from today on.

    A `chain_forecast` is no input: orders follow needs from today to the end of a day, and its months depend on each
    other, so that needs to an end of a month are no sum of theirs. For a class, a depot or a site of a chain give
    `forecast` the rows of its screens with the same as_of, programme, programmes and stop: it counts the same lamps,
    as the last example shows.

    Parameters
    ----------
    forecast : Forecast
        Lamps needed in the coming periods, of `forecast`, with programme hours and stops if given there.
    over_lead : Count
        Lamps needed over the lead time: `forecast(..., periods=1, period_days=lead_time_days).needed(1)`.
    lead_time_days : int
        Days from order to delivery, 0 or more.
    service_target : float
        Wanted chance of no shortage from today to each period's end, above 0 and at most 1.
    price : float
        Price of a lamp, in money, at least 0.
    on_hand, on_order : int
        Lamps on the shelf, and ordered to arrive within the lead time.
    on_order_later : list, optional
        Pairs of a day, counted from today, after the lead time, and the lamps ordered before that come on it. Where no
        period ends on the day before, its needs are taken as those to the end of the period, which is on the safe side.
    box_lamps, minimum_order_lamps : int
        Lamps in a box, of which only whole ones are sold, and fewest lamps in an order; 1 or more.

    Returns
    -------
    PurchaseList

    Raises
    ------
    InputError
        For another forecast than of `forecast`, for periods of less than a day, and for a number out of its range.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=2400.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> lamps = {"hours_per_week": 70.0, "planned_age_hours": 2000.0, "limit": limit}
    >>> ages = [100.0 * i for i in range(20)]
    >>> weeks = relamp.forecast(world, ages, **lamps, periods=12, period_days=7.0)
    >>> lead = relamp.forecast(world, ages, **lamps, periods=1, period_days=21.0).needed(1)
    >>> terms = {"lead_time_days": 21, "service_target": 0.95, "price": 780.0}
    >>> plan = relamp.purchase_list(weeks, lead, **terms, on_hand=1)
    >>> plan.order_now == relamp.stock_level(lead, service_target=0.95, on_hand=1).order
    True
    >>> in_boxes = relamp.purchase_list(weeks, lead, **terms, on_hand=1, box_lamps=6)
    >>> in_boxes.order_now % 6, in_boxes.order_lamps >= plan.order_lamps
    (0, True)

    Lamps that come on day 50 take the place of later orders:

    >>> fewer = relamp.purchase_list(weeks, lead, **terms, on_hand=1, on_order_later=[(50, 2)])
    >>> fewer.order_now == plan.order_now, fewer.order_lamps < plan.order_lamps
    (True, True)

    One site of a chain by the calendar, from the rows of its screens; the chain forecast counts the same lamps:

    >>> site = ["north"] * 12 + ["south"] * 8
    >>> dates = {"as_of": "2026-01-01", "programmes": {"winter": {"spans": [("2026-01-12", "2026-01-25", 0.0)]}}}
    >>> chain = relamp.chain_forecast(
    ...     {"2 kW": (world, 2000.0, limit)}, lamp_class=["2 kW"] * 20, site=site, age_hours=ages, hours_per_week=70.0,
    ...     months=3, programme=["winter"] * 20, **dates,
    ... )
    >>> rows = [i for i, name in enumerate(site) if name == "south"]
    >>> of_site = {**lamps, **dates, "programme": ["winter"] * len(rows)}
    >>> days = relamp.forecast(world, [ages[i] for i in rows], **of_site, periods=15, period_days=6.0)
    >>> by_site = relamp.forecast(world, [ages[i] for i in rows], **of_site, periods=1, period_days=21.0).needed(1)
    >>> abs(days.needed_by_end(15).mean - chain.count("2 kW", site="south").mean) < 0.01
    True
    >>> of_days = relamp.purchase_list(days, by_site, **terms, on_hand=1)
    >>> of_days.order_now == relamp.stock_level(by_site, service_target=0.95, on_hand=1).order
    True
    """

def rank_regression(
    tally: Tally,
    *,
    family: str = "weibull",
    rule: str = "median",
    regression_on: str = "age",
    endings: Sequence[str] | None = None,
) -> RankFit:
    """Fits a life by regression through the median ranks of the failures.

    A tool for small samples, as IEC 61649 asks for it; `fit` uses censored lamps better and gives intervals.

    Parameters
    ----------
    tally : Tally
        The records.
    family : str
        One with a location and a scale: "weibull", "lognormal", "exponential", "log_logistic", "normal", "logistic",
        "smallest_extreme_value".
    rule : {"median", "benard"}
        Plotting positions, see `plotting_positions`.
    regression_on : {"age", "share"}
        Which distances to the line are made small: along age (x on y), or along the failed share (y on x).
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.

    Returns
    -------
    RankFit

    Raises
    ------
    InputError
        For an unknown family, rule, direction or ending.
    RefusedError
        For rows that have no rank, and fewer than two distinct ages at failure.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([310.0, 480.0, 550.0, 720.0, 900.0])
    >>> line = relamp.rank_regression(tally)
    >>> {name: round(value, 2) for name, value in line.parameters.items()}, round(line.r_squared, 3)
    ({'shape': 2.57, 'scale': 673.09}, 0.992)
    >>> relamp.rank_regression(tally, regression_on="share").parameters["shape"] < line.parameters["shape"]
    True
    """

def rank_test(
    groups: Mapping[str, Tally],
    *,
    weight: str = "even",
    power: float = 1.0,
    by_stratum: bool = False,
    scores: Mapping[str, float] | None = None,
    reading: str | None = None,
) -> GroupTest:
    """Tests whether groups of lamps have the same hazard at every age.

    Groups are compared at equal age, so that late entry and groups of unequal age do not matter.

    Parameters
    ----------
    groups : dict of str to Tally
        The records of each group.
    weight : {"even", "at_risk", "root_at_risk", "reliability"}
        How much a failure at an age counts: the same; by the lamps at risk; by the root of them; by the reliability
        of all
        groups together just before it.
    power : float
        Power of the reliability for that last weight, 0 to 100; refused with the others.
    by_stratum : bool
        Compares lamps of one stratum (lamp class) with lamps of the same stratum only, and adds up.
    scores : dict of str to float, optional
        One score for each group: tests whether failures rise or fall with it.
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.

    Returns
    -------
    GroupTest

    Raises
    ------
    InputError
        For what are not groups, scores or words of these, and fewer than two groups.
    DomainError
        For a power out of range.
    RefusedError
        For a group without lamps, and for failures known to an interval without a reading.

    Examples
    --------
    >>> import relamp
    >>> a, b = relamp.lives([100.0, 200.0, 300.0]), relamp.lives([10.0, 20.0], [None, None])
    >>> test = relamp.rank_test({"A": a, "B": b})
    >>> test.statistic is None
    True
    >>> print(test.notes[1][1])
    group B is not compared: it left by 20 h, before the first failure at 100 h
    >>> c = relamp.lives([150.0, 250.0, 350.0])
    >>> relamp.rank_test({"A": a, "C": c}, weight="at_risk", scores={"A": 1.0, "C": 2.0}).trend < 0
    True
    """

def rate_bound_95(exposure_hours: float, /) -> float:
    """Upper 95 % bound of an even failure rate after hours in which no lamp failed, per hour.

    No failure is no rate of 0: a rate above -ln 0.05 / E = 2.996 / E would have shown a failure within E hours with a
    chance of more than 95 %. It holds for lamps of one even rate, whose failures follow a Poisson law.

    Parameters
    ----------
    exposure_hours : float
        Hours of all lamps together under observation, above 0.

    Returns
    -------
    float
        Failures per hour.

    Raises
    ------
    InputError
        For what is no number, and hours that are not finite and above 0.

    Examples
    --------
    >>> import relamp
    >>> round(1000 * relamp.rate_bound_95(20_000.0), 4)  # per 1,000 h
    0.1498
    """

def read_logs(
    logs: Mapping[str, Any] | Sequence[Mapping[str, Any]],
    *,
    reasons: Mapping[str, str],
    classes: Sequence[str] | Mapping[str, Sequence[str]] | None = None,
    folder: str | PathLike[str] | None = None,
    strict: bool = False,
    outside_folder: bool = False,
    progress: Progress | None = None,
) -> Reading:
    r"""Reads lamp logs as their owner declares them.

    Rows that cannot be used are set aside with a finding; nothing is repaired silently. Many of them, or a log that
    seems to hold something else than its `columns` say, give a `RelampWarning`, which `Reading.warning` keeps.

    Parameters
    ----------
    logs : dict or list of dict
        How each log is written, with the keys of a `[[log]]` table in a study file: `file`, `columns` (which column
        holds what), `exported_on`, and any of `encoding`, `delimiter`, `decimal`, `thousands`, `dates`, `hours_unit`,
        `blank_hours_at_fitting`, `records_from`.
    reasons : dict of str to str
        What the log's own reasons mean: from a text to an ending of `ENDINGS`. A text that is missing is unknown,
        never a failure.
    classes : list of str, or dict of str to list of str, optional
        Names of the lamp classes with their other names; without it every class is taken as the log words it.
    folder : path
        Folder that the files lie in.
    strict : bool
        Refuse logs with any row that must be set aside.
    outside_folder : bool
        Allow files outside the folder.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    Reading

    Raises
    ------
    InputError
        With every mistake in `logs`, `reasons` and `classes` at once; each names the log, the key, the value and what
        was expected, in the words that a study file gets.
    RelampError
        With every problem of the rows at once; each names file, row, line, column and value. Also where a log holds
        plainly something else than its `columns` say.

    Examples
    --------
    >>> import pathlib, tempfile, relamp
    >>> text = "serial;class;site;screen;in;out;why;hours\nA1;2 kW;S;1;2025-01-01;2025-06-01;popped;900,5\n"
    >>> log = {
    ...     "file": "log.csv", "delimiter": ";", "decimal": ",", "dates": "iso", "exported_on": "2025-12-28",
    ...     "blank_hours_at_fitting": "new",
    ...     "columns": {
    ...         "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
    ...         "removed_on": "out", "reason": "why", "hours": "hours",
    ...     },
    ... }
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = pathlib.Path(folder, "log.csv").write_text(text)
    ...     reading = relamp.read_logs(log, reasons={"popped": "burst"}, folder=folder)
    ...     known = relamp.read_logs([log], reasons={"popped": "burst"}, classes=["2 kW"], folder=folder, strict=True)
    >>> reading.lives().frame()["end_hours"].to_list(), known == reading
    ([900.5], True)
    """

def read_table(
    table: TableLike,
    *,
    columns: Mapping[str, str],
    exported_on: date | str,
    reasons: Mapping[str, str],
    classes: Sequence[str] | Mapping[str, Sequence[str]] | None = None,
    name: str = "table",
    strict: bool = False,
    progress: Progress | None = None,
    **conventions: str,
) -> Reading:
    """Reads lamp records from a data frame, an Arrow table or a dict of columns.

    Many rows set aside, or columns that seem to hold something else than `columns` says, give a `RelampWarning`, which
    `Reading.warning` keeps.

    Parameters
    ----------
    table : table
        Texts, numbers and dates as its columns hold them; text is read by the declared conventions.
    columns : dict of str to str
        Which column holds what, with the keys of `[log.columns]` in a study file.
    exported_on : date or str
        Day the export was made.
    reasons, classes, strict, progress
        As in `read_logs`.
    name : str
        Names the table in findings and errors.
    **conventions
        Any other key of a `[[log]]` table, such as `dates` or `blank_hours_at_fitting`.

    Returns
    -------
    Reading

    Raises
    ------
    InputError
        With every mistake in `columns`, `exported_on`, `reasons`, `classes` and the conventions at once; each names
        the table, the key, the value and what was expected, in the words that a study file gets.
    RelampError
        With every problem of the rows at once; each names table, row, column and value. Also where the table holds
        plainly something else than `columns` says.

    Examples
    --------
    >>> import relamp
    >>> table = {
    ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
    ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
    ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
    ... }
    >>> columns = {
    ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
    ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
    ... }
    >>> reading = relamp.read_table(
    ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
    ...     dates="iso", blank_hours_at_fitting="new",
    ... )
    >>> reading.tally().failures
    1
    """

def recurrence(sockets: Sockets, *, level: float = 0.95) -> Recurrence:
    """Estimates the mean number of failures of a socket by age, without assuming how failures follow each other.

    The sum of failures over sockets under observation, age by age; its standard error from the spread between sockets.

    Parameters
    ----------
    sockets : Sockets
        The sockets.
    level : float
        Level of the band, inside (0, 1), for one age at a time.

    Returns
    -------
    Recurrence

    Raises
    ------
    InputError
        For what is not a number.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        Without a socket.

    Examples
    --------
    >>> import relamp
    >>> screens = relamp.sockets([5000.0, 4000.0, 1000.0, 5000.0], [[900.0, 2100.0], [], [], [4500.0]])
    >>> curve = relamp.recurrence(screens)
    >>> curve.at_risk.tolist(), round(curve.mean_at(4500.0), 4)
    ([4, 3, 2], 1.0833)
    """

def recurrence_difference(sockets: Sockets, *, more_in: str, than_in: str, level: float = 0.95) -> RecurrenceDifference:
    """The difference between the mean numbers of failures of two groups of sockets, by age, with its interval.

    The interval rests on Student's law with the degrees of freedom of Welch, from the spread between sockets of each
    group.

    Parameters
    ----------
    sockets : Sockets
        The sockets, with groups.
    more_in : str
        The group that counts with a plus.
    than_in : str
        The group that counts with a minus.
    level : float
        Level of the interval, inside (0, 1), for one age at a time.

    Returns
    -------
    RecurrenceDifference

    Raises
    ------
    InputError
        For a group that is no text, and what is not a number.
    DomainError
        For a level that is not inside 0 to 1.
    RefusedError
        For a group without two sockets, and groups never watched at one age.

    Examples
    --------
    >>> import relamp
    >>> screens = relamp.sockets(
    ...     [5000.0] * 4, [[900.0, 2100.0], [1500.0], [4000.0], []], group=["North", "North", "South", "South"]
    ... )
    >>> relamp.recurrence_difference(screens, more_in="North", than_in="South").difference.tolist()
    [0.5, 1.0, 1.5, 1.0]
    """

def recurrence_test(sockets: Sockets) -> RecurrenceTest:
    """Tests whether groups of sockets have one mean number of failures at every age.

    Failures less those expected with the rate of all sockets together at each age, against a variance taken from the
    sockets themselves, each held against its own group: failures that come in clusters do not pass for a difference,
    and a large difference does not pass for spread. Groups of fewer than 10 sockets are judged by the spread of all
    groups. The p value is that of an F law, as Welch's test for two large groups and the analysis of variance of counts
    for small ones that were watched alike.

    Parameters
    ----------
    sockets : Sockets
        The sockets, with two groups or more.

    Returns
    -------
    RecurrenceTest

    Raises
    ------
    RefusedError
        With one group, without a failure, and where the sockets give no variance.

    Examples
    --------
    >>> import relamp
    >>> screens = relamp.sockets(
    ...     [5000.0] * 20, [[1000.0 + 50.0 * i] if i % 4 == 0 else [] for i in range(20)], group=["North", "South"] * 10
    ... )
    >>> test = relamp.recurrence_test(screens)
    >>> test.degrees, test.p_value < 0.05
    (1, True)
    """

def removal_bounds(
    tally: Tally,
    *,
    suspects: Sequence[str],
    age_hours: float,
    widest: float = 0.25,
    level: float = 0.95,
    endings: Sequence[str] | None = None,
    reading: str | None = None,
) -> RemovalBounds:
    """Bounds the reliability whatever the lamps that were taken out early would have done: fail at once, or never.

    The bounds hold for every dependence of removal on failure, while the other rows that did not fail are independent
    of
    both. Peterson (1976), Proceedings of the National Academy of Sciences 73, 11-13 (from memory).

    Parameters
    ----------
    tally : Tally
        The records.
    suspects : list of str
        Endings of lamps that were taken out because they looked about to fail; words of `ENDINGS` other than
        "running".
    age_hours : float
        The age at which the bounds are judged.
    widest : float
        Widest bounds that still say something, as a share of lamps.
    level : float
        Level of the bands of both bounds, inside (0, 1).
    endings : list of str, optional
        Endings that count as failure; without it every failure but the suspects.
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.

    Returns
    -------
    RemovalBounds

    Raises
    ------
    InputError
        For endings that are none or cannot be suspect, and what is not a number.
    DomainError
        For a width or a level out of range.
    RefusedError
        For an age that the curves do not know, and as `product_limit`.

    Examples
    --------
    >>> import relamp
    >>> why = ["dim", "burst", "running"]
    >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
    >>> bounds = relamp.removal_bounds(tally, suspects=["dim"], age_hours=250.0)
    >>> round(bounds.low, 6), round(bounds.high, 6), bounds.informative
    (0.4, 0.9, False)
    """

def removal_dial(
    tally: Tally,
    *,
    suspects: Sequence[str],
    family: str = "weibull",
    taus: Column | None = None,
    replicates: int = 200,
    seed: int = 1,
    endings: Sequence[str] | None = None,
    reading: str | None = None,
    progress: Progress | None = None,
) -> RemovalDial:
    """Fits a life at each of some dependences of suspect removal on failure: a dial whose zero is the ordinary fit.

    The life has a family; removal has none, as it follows the habits of technicians: its hazard is the one that goes
    with
    `dependent_curve`. At 0 the life is that of `fit`, exactly. Nothing here estimates the dependence: it is the
    caller's.

    Parameters
    ----------
    tally : Tally
        The records.
    suspects : list of str
        Endings of lamps that were taken out because they looked about to fail; words of `ENDINGS` other than
        "running".
    family : str
        As in `fit`, but "weibull_failure_free" and "piecewise_constant(...)", whose likelihoods have corners.
    taus : array-like, optional
        Dependences to fit at, Kendall's tau, from 0 to below 1; 0 is always among them. Without it 0 to 0.9 by 0.1.
    replicates : int
        How many refits under random weights at each, 20 or more, or 0 for none and then no intervals.
    seed : int
        Seed of the weights.
    endings : list of str, optional
        Endings that count as failure; without it every failure but the suspects.
    reading : {"upper", "midpoint", "lower"}, optional
        The age that stands for a failure known only to an interval; without it such rows are refused.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    RemovalDial

    Raises
    ------
    InputError
        For endings that are none or cannot be suspect, and too few refits.
    DomainError
        For a dependence out of range.
    RefusedError
        For a family with corners, a search that does not settle, and as `fit` and `dependent_curve`.

    Examples
    --------
    >>> import relamp
    >>> low = [200.0 + 60.0 * i for i in range(40)]
    >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
    >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
    >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=0)
    >>> scale = [dial.life(tau).parameters["scale"] for tau in dial.taus]
    >>> scale == sorted(scale, reverse=True)
    True
    """

def replay_age(
    reading: Reading,
    costs: Costs,
    limit: HourLimit,
    *,
    planned_age_hours: float,
    lamp_class: str | None = None,
    since: str | None = None,
    failure_endings: Sequence[str] | None = None,
    model: Fit | Life | None = None,
    level: float = 0.9,
    replicates: int = 400,
    seed: int = 0,
    progress: Progress | None = None,
) -> ReplayedAge:
    """The records of a lamp class read as if lamps had been changed at another age, with what it would have cost.

    A lamp seen to pass the age tells all of the rule, and so does one that failed before it. One that left earlier on
    plan, was moved or still burns tells of the hours it burned; the rest is taken from lamps that went on. Past the
    oldest age seen no row tells anything: the age is refused, or with a model goes on by the model's chance, and
    `hours_from_model` says how much rests on it.

    Parameters
    ----------
    reading : Reading
        From `read_logs` or `read_table`.
    costs : Costs
        Of a planned change and of each failure seen; money back under a warranty is taken off.
    limit : HourLimit
        No rule past it is replayed.
    planned_age_hours : float
        The rule: lamps are changed at this age, hours, or at failure.
    lamp_class : str, optional
        The lamp class; without it the only one of the records.
    since : str, optional
        A day such as "2025-03-17": only what happened after it counts.
    failure_endings : list of str, optional
        Words of `ENDINGS` that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
    model : Fit or Life, optional
        The life of all these endings together, for ages that no row tells of.
    level : float
        Level of the intervals, above 0 and below 1.
    replicates : int
        How often the lamps are weighed anew for the intervals, 20 to 100,000.
    seed : int
        Seed of the weights.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    ReplayedAge

    Raises
    ------
    InputError
        For a class without a lamp, an age, a day or an option out of range, and an ending without a cost.
    LimitError
        For an age past the hour limit.
    RefusedError
        For an age past the rows without a model.

    Examples
    --------
    >>> import relamp
    >>> table = {
    ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
    ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-03-01", "2025-07-01"], "why": ["popped", "due"],
    ...     "hours": [600.0, 1500.0],
    ... }
    >>> columns = {
    ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
    ...     "removed_on": "out", "reason": "why", "hours": "hours",
    ... }
    >>> reading = relamp.read_table(
    ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst", "due": "planned"},
    ...     dates="iso", blank_hours_at_fitting="new",
    ... )
    >>> costs = relamp.costs(1000.0, burst=5000.0)
    >>> limit = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
    >>> at = relamp.replay_age(reading, costs, limit, planned_age_hours=1000.0)
    >>> at.cost_per_hour, at.reached, at.failed, at.left
    (3.75, 1, 1, 0)
    >>> life = relamp.life("exponential", scale=2000.0)
    >>> relamp.replay_age(reading, costs, limit, planned_age_hours=2000.0, model=life).hours_from_model > 0.0
    True
    """

def replay_predictions(
    reading: Reading,
    *,
    lamp_class: str | None = None,
    window_days: int = 91,
    family: str = "weibull",
    failure_endings: Sequence[str] | None = None,
    draws: int = 200,
    min_failures: int = 20,
    seed: int = 0,
    progress: Progress | None = None,
) -> PredictionReplay:
    """Goes through the history window by window, predicts failures from what was known before each, and judges over all
    windows whether the predicted distributions held.

    Each window has a value: a number evenly drawn between P(N < n) and P(N <= n), with n failures seen and N as
    predicted. Where predictions hold, the values are even between 0 and 1 and independent. Many high ones: more
    failures than predicted. Many near 0 and 1: intervals too narrow. Hours and removals are taken as they came; only
    failures are predicted.

    Parameters
    ----------
    reading : Reading
        From `read_logs` or `read_table`.
    lamp_class : str, optional
        The lamp class; without it the only one of the records.
    window_days : int
        Length of a window, 7 to 730 days; the last ends on the last day read.
    family : str
        The family fitted before each window.
    failure_endings : list of str, optional
        Words of `ENDINGS` that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
    draws : int
        Draws behind each predicted distribution, 20 to 100,000.
    min_failures : int
        How many failures must be known before a window, at least 5, for it to be predicted.
    seed : int
        Seed of the draws and of the values.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    PredictionReplay

    Raises
    ------
    InputError
        For a class without a lamp, an unknown family, and options out of range.
    RefusedError
        Where no window could be predicted.

    Examples
    --------
    >>> import relamp
    >>> reading = relamp.Study.open("data/demo/study.toml").read()
    >>> replay = relamp.replay_predictions(reading, lamp_class="2.0 kW", window_days=182, draws=20, seed=1)
    >>> len(replay) == len(replay.values) > 0
    True
    >>> all(0.0 <= value <= 1.0 for value in replay.values)
    True
    """

def residuals(fit: Fit, tally: Tally, *, endings: Sequence[str] | None = None) -> HazardResiduals:
    """The cumulative hazard that each lamp went through under a fit, and its curve beside that of the records.

    If the fit holds, the cumulative hazard at the age of failure is a life of mean 1 with an even hazard. So failures
    over lamps at risk, added up by age (`seen`), follow the fitted cumulative hazard (`expected`): above it more lamps
    fail than the fit says, below it fewer. A failure known to an interval counts with its mean there under the fit.

    Parameters
    ----------
    fit : Fit
        A fit of any family.
    tally : Tally
        The fitted records, or other ones to be judged by this fit.
    endings : list of str, optional
        The ones that count as failure; all failures without it.

    Returns
    -------
    HazardResiduals
        Its frame has one row for each age at failure; `plots_model.residuals` draws it.

    Raises
    ------
    InputError
        For a word that is no ending.
    RefusedError
        For records that show failures only, and for a failure where the fitted hazard is 0.

    Examples
    --------
    >>> import relamp
    >>> tally = relamp.lives([100, 300, 400], [100, 300, None])
    >>> even = relamp.fit(relamp.lives([100.0] * 12 + [700.0] * 12), family="exponential")  # a mean of 400 h
    >>> judged = relamp.residuals(even, tally)
    >>> judged.passed.round(2).tolist(), judged.failures, round(judged.expected_failures, 6)
    ([0.25, 0.75, 1.0], 2, 2.0)
    >>> judged.seen.round(3).tolist(), relamp.residuals(even, tally, endings=["burst"]).failures
    ([0.333, 0.833], 0)
    """

def self_consistent(
    tally: Tally, *, given_survival_to: float | None = None, gradient: float = 1e-9, most_steps: int = 5000
) -> SelfConsistent:
    """Estimates the reliability of lamps whose failures are known to ages, to intervals or not at all; no family.

    Mass stands in innermost intervals; inside one the curve is not determined and has a lower and an upper value. The
    gradient of the result proves that no other curve is likelier.

    Parameters
    ----------
    tally : Tally
        The records: any mixture of exact, interval-, left- and right-censored rows, late entry and counts.
    given_survival_to : float, optional
        Starts the curve at this age, hours: it then holds for lamps that reached it.
    gradient : float
        The climb ends when the gradient for each lamp is at most this; above 0 and below 1.
    most_steps : int
        How many steps the climb may take; a climb that they end gives a `NotConvergedWarning`.

    Returns
    -------
    SelfConsistent

    Raises
    ------
    InputError
        For what is not a number.
    DomainError
        For an age or a gradient out of range.
    RefusedError
        Where no lamp is at risk, for records that show failures only, and for an age inside the interval of a failure.

    Examples
    --------
    >>> import relamp
    >>> curve = relamp.self_consistent(relamp.lives([2.0, 1.0, 2.0], [2.0, 3.0, None]))
    >>> curve.mass.round(6).tolist(), curve.stretches.tolist()
    ([0.5, 0.5], [[2.0, 2.0], [2.0, 3.0]])
    >>> curve.converged, curve.gradient < 1e-9
    (True, True)
    """

def shelf_age(
    needed_a_day: float,
    *,
    base_stock: int,
    lead_time_days: float | Column,
    price: float,
    quantity: int = 1,
    weights: Column | None = None,
    shelf_life_days: float | None = None,
    warranty_days: float | None = None,
) -> ShelfAge:
    """How long lamps lie on the shelf before they are used, first in first out, and what shelf life and a warranty
    that runs from delivery lose by it.

    A lamp lies longer than d days with the chance that fewer lamps than stood before it are needed in lead time
    and d days. Exact while expired lamps stay on the shelf; where more than a few in a hundred expire and are
    thrown away, fewer are lost than said.

    Parameters
    ----------
    needed_a_day : float
        Mean lamps needed a day, one at a time by chance, 0 to 1e6.
    base_stock : int
        One above the order point, 0 or more lamps.
    lead_time_days : float or array-like
        Days from placing an order to its arrival, 0 to 7,310.
    price : float
        Price of a lamp, 0 to 1e12.
    quantity : int
        Lamps in one order, 1 or more.
    weights : array-like, optional
        How likely each lead time is; alike without it.
    shelf_life_days : float, optional
        Days after delivery from which a lamp is no longer good, above 0 and at most 7,310.
    warranty_days : float, optional
        Days of warranty that run from delivery, above 0 and at most 7,310.

    Returns
    -------
    ShelfAge

    Raises
    ------
    InputError
        For what is not a number or out of range.

    Examples
    --------
    >>> import relamp
    >>> age = relamp.shelf_age(6 / 365.25, base_stock=5, lead_time_days=30.0, price=800.0, shelf_life_days=365.0)
    >>> round(age.expired_chance, 4)
    0.2249
    """

def sockets(
    to: Column,
    failures: Sequence[Column],
    *,
    start: Column | None = None,
    name: Column | None = None,
    group: Column | None = None,
) -> Sockets:
    """Makes sockets from the ends of their watches and the ages of their failures.

    The age of a socket is its own, in hours that lamps burned in it, or in days: it goes on when the lamp is changed.

    Parameters
    ----------
    to : array-like
        Age of each socket at which its watch ended, (n,).
    failures : list of array-like
        Ages of each socket at which a lamp in it failed, after the start of the watch and at its end at the latest; n
        of them, empty for none.
    start : array-like, optional
        Age of each socket at which its watch began, (n,); 0 without it.
    name : array-like of str, optional
        Name of each, (n,); their numbers from 1 without it.
    group : array-like of str, optional
        What they are compared by, such as the site, (n,).

    Returns
    -------
    Sockets

    Raises
    ------
    InputError
        For columns of different length, what is not a number, ages that do not fit together, and a name that two have:
        every one of them.

    Examples
    --------
    >>> import relamp
    >>> screens = relamp.sockets([5000.0, 4000.0, 1000.0, 5000.0], [[900.0, 2100.0], [], [], [4500.0]])
    >>> len(screens), screens.failures, screens.exposure
    (4, 3, 15000.0)
    """

def sockets_of(
    reading: Reading,
    *,
    lamp_class: str | None = None,
    endings: Sequence[str] | None = None,
    clock: str = "hours",
) -> Sockets:
    """Makes one socket of each screen that the spells of a reading stand in; its group is its site.

    By hours, the age of a socket is the hours that lamps burned in it, spell after spell. By days, it is the days since
    its first fitting. A failure known to an interval stands at its upper end.

    Parameters
    ----------
    reading : Reading
        What `read_logs` or `read_table` gave.
    lamp_class : str, optional
        Only the spells of this class.
    endings : list of str, optional
        Endings that count as failure; without it burst, seal, no_strike, flicker and dim.
    clock : {"hours", "days"}
        What the age of a socket counts.

    Returns
    -------
    Sockets

    Raises
    ------
    InputError
        For an unknown class, ending or clock.
    RefusedError
        Where no screen was under observation.

    Examples
    --------
    >>> import relamp
    >>> study = relamp.Study.open("data/demo/study.toml")  # invented
    >>> screens = relamp.sockets_of(study.read(), lamp_class="2.0 kW")
    >>> len(screens) > 50
    True
    """

def stock_costs(
    price: float | Mapping[int, float],
    *,
    money_rate: float = 0.0,
    holding_a_year: float = 0.0,
    per_order: float = 0.0,
    dark_day: float = 0.0,
    dark_show: float = 0.0,
) -> StockCosts:
    """What holding, ordering and doing without cost, in one currency.

    Parameters
    ----------
    price : float or dict
        Price of one lamp; or prices by the least lamps of an order from which each holds for the whole order, the
        first from 1: `{1: 800.0, 12: 760.0}`. 0 to 1e12 each.
    money_rate : float
        Share of its price that a lamp on the shelf costs a year, 0 to 10.
    holding_a_year : float
        What a lamp on the shelf costs a year beside that.
    per_order : float
        What an order costs whatever its size.
    dark_day : float
        What a day costs on which a screen waits for a lamp.
    dark_show : float
        What a lost show costs beside that.

    Returns
    -------
    StockCosts

    Raises
    ------
    InputError
        For what is not a number, an amount that is negative or above 1e12, and sizes of orders that do not rise
        from 1.

    Examples
    --------
    >>> import relamp
    >>> relamp.stock_costs({1: 800.0, 12: 760.0}, money_rate=0.1, per_order=60.0).frame().rows()
    [(1, 800.0, 80.0), (12, 760.0, 76.0)]
    """

def stock_count(
    counts: str | PathLike[str] | TableLike,
    *,
    counted_on: date | str,
    columns: Mapping[str, str] | None = None,
    classes: Sequence[str] | Mapping[str, Sequence[str]] | None = None,
    places: Sequence[str] | None = None,
    lead_time_days: Mapping[str, float] | None = None,
    limits: Mapping[str, float] | None = None,
    **conventions: str,
) -> StockCount:
    """Reads a stock count from a file or a table: lamps on hand and on order by class and place, and good used lamps.

    A row counts new lamps in a site or depot, lamps on their way there, or both; an order may have a row of its
    own. A row with a serial is one lamp: with hours a used one, an emergency spare if it was planned, moved or
    converted and has hours left; with 0 h a new one. What cannot be used is set aside, what is doubtful is told;
    many rows set aside give a `RelampWarning`.

    Parameters
    ----------
    counts : path or table
        A text file, or a data frame, Arrow table or dict, with the columns `lamp_class` and `place`, and any of
        `on_hand`, `on_order`, `due_on`, `serial`, `age_hours` and `ending`.
    counted_on : date or str
        Day of the count.
    columns : dict of str to str, optional
        The names of the columns in the count, where they differ from ours.
    classes : list of str, or dict of str to list of str, optional
        Names of the lamp classes with their other names; without it every class is taken as the count words it.
    places : list of str, optional
        Sites and depots; without it every place is taken.
    lead_time_days : dict of str to float, optional
        Days from an order to its delivery by class, whole numbers of 0 or more: orders without a due day are due so
        many days after the count.
    limits : dict of str to float, optional
        Hours by class, above 0: a used lamp at or past them is no spare.
    **conventions : str
        How a file is written: any of `delimiter`, `decimal`, `thousands`, `dates`, `encoding`.

    Returns
    -------
    StockCount

    Raises
    ------
    InputError
        For a column that is missing, named twice or misspelt, a file that cannot be read, a convention that is
        none, and numbers or days that are none.

    Examples
    --------
    >>> import relamp
    >>> count = relamp.stock_count(
    ...     {"type": ["2 kW", "4 kW"], "place": ["Depot", "Depot"], "on_hand": [4, 2]}, columns={"lamp_class": "type"},
    ...     counted_on="2026-01-31", places=["Depot"],
    ... )
    >>> count.frame().select("lamp_class", "on_hand").rows()
    [('2 kW', 4), ('4 kW', 2)]
    """

def stock_level(needed: Count, *, service_target: float, on_hand: int = 0, on_order: int = 0) -> StockAdvice:
    """How many spares to hold so that no shortage comes up over a lead time with the wanted chance.

    Parameters
    ----------
    needed : Count
        Lamps needed over the lead time: `forecast(..., periods=1, period_days=lead_time_days).needed(1)`.
    service_target : float
        Wanted chance of no shortage, above 0 and at most 1.
    on_hand, on_order : int
        Lamps on the shelf, and ordered to arrive within the lead time.

    Returns
    -------
    StockAdvice

    Raises
    ------
    InputError
        For lamps that are no whole numbers of at least 0, and a target that is not a number above 0 and at most 1.

    Examples
    --------
    >>> import relamp
    >>> advice = relamp.stock_level(relamp.Count.poisson(4.0), service_target=0.85, on_hand=3, on_order=1)
    >>> advice.level, advice.order
    (6, 2)
    """

def stock_service(
    demand: LeadDemand,
    *,
    base_stock: int,
    quantity: int = 1,
    order_up_to: int | None = None,
    hours_per_week: float | None = None,
    show_hours: float | None = None,
) -> StockService:
    """What a rule of ordering gives at one place: service, waiting, stock and lost shows.

    Without `order_up_to`, `quantity` lamps are ordered, or the least multiple that helps, as soon as the position
    (on hand and on order less lamps waited for) is below `base_stock`; at reviews, where the demand has any. With
    `order_up_to`, each review that finds the position below `base_stock` orders up to that level.

    Parameters
    ----------
    demand : LeadDemand
        What `lead_demand` gave.
    base_stock : int
        One above the order point, 0 or more lamps.
    quantity : int
        Lamps in one order, 1 or more: 1 orders each lamp when it is used.
    order_up_to : int, optional
        Position after an order, in place of a quantity, `base_stock` or more lamps.
    hours_per_week : float, optional
        Hours a screen plays a week, above 0 and at most 168, to count lost shows.
    show_hours : float, optional
        Hours that one show takes, above 0.

    Returns
    -------
    StockService

    Raises
    ------
    InputError
        For lamps that are no whole numbers, a quantity of 0, a level below the base stock, a level without
        reviews, and a programme of which one number is missing or out of range.

    Examples
    --------
    >>> import relamp
    >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
    >>> service = relamp.stock_service(demand, base_stock=6, hours_per_week=70.0, show_hours=2.5)
    >>> round(service.fill_rate, 4), round(service.no_screen_waiting, 4), round(service.dark_shows_a_year)
    (0.7851, 0.8893, 286)
    """

def trend(sockets: Sockets, *, ended: str = "time") -> Trend:
    """Tests whether the rate of failures of sockets changes with their age.

    - centroid: mean age of the failures against the middle of the watch, for failures at a constant rate in each
      socket; above 0 means more and more failures. centroid_robust: the same with the spread taken from the sockets,
      held against Student's law.
      centroid_gaps: from the gaps between failures, for one socket.
    - logarithms: 2 sum ln(end / age), chi-square; small means more and more failures. For watches from 0.
    - longer_gaps: pairs of gaps of which the later is the longer, for one socket.

    Parameters
    ----------
    sockets : Sockets
        The sockets.
    ended : {"time", "failure"}
        What ended the watches: with "failure" the last failure of each socket does not count.

    Returns
    -------
    Trend

    Raises
    ------
    InputError
        For another word than "time" or "failure".
    RefusedError
        Where no failure counts.

    Examples
    --------
    >>> import relamp
    >>> one = relamp.sockets([1000.0], [[500.0, 800.0, 950.0]])
    >>> statistic, p_value = relamp.trend(one).tests["centroid"]
    >>> round(statistic, 6), round(p_value, 3)
    (1.5, 0.134)
    """

def two_clocks(
    tally: Tally,
    *,
    strikes_per_hour: str,
    family: str = "weibull",
    level: float = 0.95,
    endings: Sequence[str] | None = None,
) -> TwoClocks:
    """Fits a life on two clocks: burning wears a lamp, and so does each strike.

    Equivalent hours are hours + k x strikes = h (1 + k r), with r strikes for each hour, constant over the life of a
    lamp:
    R(h) = R0(h (1 + k r)), f(h) = f0(h (1 + k r)) (1 + k r), the density per hour. The interval of k is by profile
    likelihood;
    k cannot lie below 0. Where every mix from hours alone to strikes alone explains the records about as well, no
    estimate is
    given, but the profile is.

    Parameters
    ----------
    tally : Tally
        The records, with covariates.
    strikes_per_hour : str
        The covariate that holds r of each lamp: its strikes over its hours so far.
    family : str
        As in `fit`: a smooth family of ages above 0.
    level : float
        Level of the interval, inside (0, 1).
    endings : list of str, optional
        Endings that count as failure; the others are right-censored. Without it all failures count.

    Returns
    -------
    TwoClocks

    Raises
    ------
    InputError
        For a covariate that is not there, holds no numbers or some below 0; for a level out of range.
    RefusedError
        For a family with corners or of ages below 0, and as `fit`.

    Examples
    --------
    >>> import relamp
    >>> rate = [0.1, 0.5] * 10
    >>> low = [(950.0 + 10.0 * (i // 2)) / (1.0 + 2.0 * r) for i, r in enumerate(rate)]
    >>> tally = relamp.lives(low, covariates={"rate": rate})
    >>> clocks = relamp.two_clocks(tally, strikes_per_hour="rate", level=0.9)
    >>> clocks.low < 2.0 < clocks.high
    True
    """

def used_spares(
    model: World | Draws,
    age_hours: Column,
    *,
    ending: Sequence[str],
    limit: HourLimit,
    until_hours: float,
    progress: Progress | None = None,
) -> Table:
    """Used lamps as emergency spares: which may serve, and the chance that each lasts until the next delivery.

    A lamp may serve only if it was taken out on plan, to be moved or for a conversion, with hours left below the limit.
    It keeps its age. lasts = R(a + u) / R(a) where a + u is within the limit, else 0; a: hours burned, u: hours until
    the delivery.

    Parameters
    ----------
    model : World or Draws
        With draws, chances are means over draws.
    age_hours : array-like
        Hours burned; a missing one (None, null) is not known, and the lamp may not serve.
    ending : list of str
        Why each was taken out, words of `ENDINGS`.
    limit : HourLimit
        The age that no lamp may pass.
    until_hours : float
        Programme hours until the next delivery, at least 0.
    progress : callable, optional
        Told `(done, total)` now and then, and at the end.

    Returns
    -------
    Table
        One row for each lamp, in order: age, ending, verdict (`serves`, `reaches_limit`, `at_limit`, `ending` or
        `age_unknown`), hours left below the limit, chance to last, mean hours it would burn until then.

    Raises
    ------
    InputError
        For another model than a world or draws, ages below 0, a word that is no ending, and columns of unequal length.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> spares = relamp.used_spares(
    ...     world, [900.0, 900.0, 1990.0], ending=["converted", "flicker", "planned"], limit=limit, until_hours=100.0
    ... )
    >>> spares.frame()["verdict"].to_list()
    ['serves', 'ending', 'reaches_limit']
    """

def visit_rule_cost(
    world: World,
    limit: HourLimit,
    *,
    visit_age_hours: float,
    age_hours: float,
    mean_hours_between_visits: float,
    visit_cost: float,
    evenly: bool = False,
) -> VisitCost:
    """Long-run cost of changing lamps at an age, from an earlier one on at a visit that happens anyway, or at failure.

    Visits come at random and without memory, or with `evenly` at equal distances. At random, with S(x) the
    reliability, from the visit age v on times
    exp(-(x - v) / m) for visits every m hours, the cost per hour is
    [c_p V + (c_p + c_v) S(T) + sum_j ((c_j + c_v) F_j - B_j)] / integral of S over (0, T), where V is the share changed
    at a visit, F_j the share that fails by cause j, c_v the cost of a visit for one lamp alone and B_j the money back
    under a warranty. At equal distances the same is taken over where in a distance a lamp is fitted, in the long
    run. The
    lamp stands alone at its site; `play_fleet` plays out lamps that share visits.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs.
    limit : HourLimit
        An age past it is refused.
    visit_age_hours : float
        Age from which a visit is used, hours: 0 to `age_hours`.
    age_hours : float
        Age at which a lamp is changed without waiting for a visit, hours.
    mean_hours_between_visits : float
        Mean burning hours from one visit to the next, above 0.
    visit_cost : float
        Cost of a visit made for one lamp alone, beside its change; 0 where the costs of a change hold it.
    evenly : bool
        Whether the visits come at equal distances, such as a round every month; by default at random.

    Returns
    -------
    VisitCost

    Raises
    ------
    InputError
        For visits without a distance, a cost that is none, and a visit age past the age.
    DomainError
        For an age that is not above 0.
    LimitError
        For an age past the limit.
    RefusedError
        For visits at equal distances that are thousands in a life or far rarer than a life.

    Examples
    --------
    Where visits are rare it is the rule of one age.

    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1.0, burst=5.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> rare = relamp.visit_rule_cost(
    ...     world, limit, visit_age_hours=300.0, age_hours=500.0, mean_hours_between_visits=1e15, visit_cost=0.0
    ... )
    >>> often = relamp.visit_rule_cost(
    ...     world, limit, visit_age_hours=300.0, age_hours=500.0, mean_hours_between_visits=100.0, visit_cost=0.0
    ... )
    >>> round(rare.at_age, 3), often.at_visit > 0.8
    (0.882, True)

    The same visits as a round every 100 h: whatever is fitted, the next visit after 300 h is at most 100 h away.

    >>> even = relamp.visit_rule_cost(
    ...     world, limit, visit_age_hours=300.0, age_hours=500.0, mean_hours_between_visits=100.0, visit_cost=0.0,
    ...     evenly=True,
    ... )
    >>> even.at_age, even.mean_age_at_change_hours < 400.0
    (0.0, True)
    """

def records_value(
    draws: Draws,
    limit: HourLimit,
    age_hours: Column,
    *,
    hours_per_week: float | Column,
    days: float = 365.25,
    rule_hours: float | None = None,
    plays: int = 1,
    seed: int = 0,
    todays_rule_hours: float | None = None,
    oldest_at_risk_hours: float | None = None,
    extrapolate_because: str | None = None,
    objective: Discount | DarkMinutes | None = None,
    progress: Progress | None = None,
) -> RecordsValue:
    """What records of more hours, such as another year, would save by a better choice of the planned age, before they
    are there.

    Each draw in turn is taken for the truth: the screens burn their hours with its lamps, what is seen weighs the other
    draws by how likely they make it, and the age of least weighted mean cost is chosen. The saving is what today's
    choice, the age of least plain mean cost, costs more in the truth. Whether the model holds is not asked, nor what
    new records would tell past the age where advice stops today. Few draws understate the saving.

    Parameters
    ----------
    draws : Draws
        Possible worlds, as `CauseFits.draws` gives them; 20 or more, some hundreds for a steady answer.
    limit : HourLimit
        No age in the answer passes it.
    age_hours : array-like
        Age of the lamp in each screen today, hours; None where not known: that lamp is changed at once.
    hours_per_week : float or array-like
        Hours that each screen burns in a week.
    days : float
        Days during which the new records are made, above 0.
    rule_hours : float, optional
        Age at which lamps are changed meanwhile, hours; without it today's rule, else the advised age.
    plays : int
        How many times the time ahead is played for each draw, 1 to 1000.
    seed : int
        Seed of the plays, from 0.
    todays_rule_hours : float, optional
        The age at which lamps are changed today, hours.
    oldest_at_risk_hours : float, optional
        Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
    extrapolate_because : str, optional
        Why advice may pass the oldest lamp at risk (never the limit).
    objective : Discount or DarkMinutes, optional
        What is counted per hour; None for the cost.
    progress : callable, optional
        Called with (done, total) while it runs; an error in it, like Ctrl-C, stops the work.

    Returns
    -------
    RecordsValue

    Raises
    ------
    InputError
        For what is not a number or out of range, and screens none of which burns.
    DomainError
        For a rule that is not above 0.
    LimitError
        For a rule past the limit.
    RefusedError
        For fewer than 20 draws, and where the new records would leave fewer than 10 draws in play.

    Examples
    --------
    >>> import relamp
    >>> ages = [100.0 + 7.0 * i for i in range(60)]
    >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
    >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    >>> draws = relamp.fit_causes(tally).draws(tally, costs, n=60, seed=1)
    >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
    >>> value = relamp.records_value(draws, limit, [100.0, 250.0, None], hours_per_week=70.0, days=90.0, seed=1)
    >>> value.saving_per_hour <= value.most_per_hour
    True
    >>> value.hours_ahead
    2700.0
    """

def salvage(*, worth_of_new: float, gone_hours: float, least_hours_left: float | None = None) -> Salvage:
    """What a good used lamp is worth by its age: as a spare for an emergency, or sold.

    It falls evenly with the hours burned, to nothing at `gone_hours`. With `least_hours_left` it drops to nothing at
    once where only so many hours or fewer are left. Only a lamp that is changed though it works is worth anything;
    `Costs.with_salvage` puts it in the costs.

    Parameters
    ----------
    worth_of_new : float
        What a lamp would bring that has hardly burned, in the currency of the costs, 0 or more.
    gone_hours : float
        Age at which nothing is left, hours, 1 or more.
    least_hours_left : float, optional
        Hours left up to which a lamp is worth nothing, below `gone_hours`; None for 0.

    Returns
    -------
    Salvage

    Raises
    ------
    InputError
        For what is not a number or out of range.

    Examples
    --------
    >>> import relamp
    >>> relamp.salvage(worth_of_new=400.0, gone_hours=2000.0).worth(1000.0)
    200.0
    >>> salvage = relamp.salvage(worth_of_new=400.0, gone_hours=2000.0, least_hours_left=500.0)
    >>> salvage.end_hours, salvage.worth(1500.0)
    (1500.0, 0.0)
    """

def warranty(
    *,
    form: str,
    price: float,
    endings: list[str],
    hours: float | None = None,
    steps: list[tuple[float, float]] | None = None,
) -> Warranty:
    """Money back from the maker for a lamp that fails early.

    A failure at the end itself counts as late: what a claim at the last hour brings is not counted on.

    Parameters
    ----------
    form : str
        How the money back falls with age: "full", the whole price up to the end; "pro_rata", the price times the share
        of the hours that the lamp did not burn; "stepped", a share of the price for each stretch of ages.
    price : float
        Price of the lamp, in the currency of the costs.
    endings : list of str
        The failures that are covered, words of `ENDINGS`.
    hours : float, optional
        Hours of the warranty as printed; needed for "full" and "pro_rata".
    steps : list of (float, float), optional
        For "stepped": for each stretch the age at which it ends, hours, and the share of the price that comes back, 0
        to 1.

    Returns
    -------
    Warranty

    Raises
    ------
    InputError
        For a word that is no form or no ending, for what is not a number or out of range, and where hours or steps are
        missing, or are there and not asked for.

    Examples
    --------
    >>> import relamp
    >>> relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"]).credit(500.0)
    750.0
    >>> steps = [(250.0, 1.0), (1000.0, 0.5)]
    >>> relamp.warranty(form="stepped", price=800.0, steps=steps, endings=["burst", "seal"]).credit(250.0)
    400.0
    """

def warranty_value(world: World, limit: HourLimit, *, age_hours: float) -> WarrantyValue:
    """What the warranty of a world's costs is worth at a planned age.

    Parameters
    ----------
    world : World
        Causes with their lives, and costs with a warranty, as `Costs.with_warranty` gives them.
    limit : HourLimit
        An age past it is refused.
    age_hours : float
        Planned age, hours.

    Returns
    -------
    WarrantyValue

    Raises
    ------
    InputError
        For costs without a warranty, and an age that is not a number.
    DomainError
        For an age that is not above 0.
    LimitError
        For an age past the limit.
    RefusedError
        Where every lamp fails under warranty.

    Examples
    --------
    At an even rate of one failure in 5,000 h, a full warranty of 1,000 h and a price of 780: 780 (1 - exp(-0.2)).

    >>> import relamp
    >>> warranty = relamp.warranty(form="full", price=780.0, hours=1000.0, endings=["burst"])
    >>> costs = relamp.costs(950.0, burst=5200.0).with_warranty(warranty)
    >>> world = relamp.world({"burst": relamp.life("exponential", scale=5000.0)}, costs)
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> round(relamp.warranty_value(world, limit, age_hours=1500.0).money_back_per_lamp, 2)
    141.39
    """

def watch(expected: ExpectedEndings, *, ratio: float = 2.0, false_alarms_a_year: float = 1.0) -> Watch:
    """Watches failures as they come, against those expected at the lamps' ages.

    Each batch, supplier, site or screen has a chart: a running sum that rises by ln(ratio) with each failure and falls
    by (ratio - 1) with each failure expected, not below 0. At the bound it raises an alarm and starts again at 0. One
    bound serves all charts: the lowest at which sound charts, played with the same expected failures in the same
    months, raise at most as many false alarms a year as are borne.

    Parameters
    ----------
    expected : ExpectedEndings
        From `expected_endings`.
    ratio : float
        The hazard ratio that is told soonest, at least 1.5 and at most 5.
    false_alarms_a_year : float
        How many false alarms a year are borne over all that is watched, above 0 to 100.

    Returns
    -------
    Watch

    Raises
    ------
    InputError
        For numbers out of range.
    RefusedError
        Where the models expect no failure.

    Examples
    --------
    >>> import relamp
    >>> table = {
    ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
    ...     "in": ["2025-11-01", "2025-11-01"], "out": ["2025-11-21", None], "why": ["popped", None],
    ...     "hours": [200.0, 300.0], "read": [None, "2025-12-01"],
    ... }
    >>> columns = {
    ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
    ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
    ... }
    >>> reading = relamp.read_table(
    ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst"},
    ...     dates="iso", blank_hours_at_fitting="new",
    ... )
    >>> life = relamp.life("exponential", scale=1000.0)
    >>> watch = relamp.watch(relamp.expected_endings(reading, {"2 kW": life}))
    >>> len(watch.alarms())
    0
    """

def within_window(
    fit: Fit,
    *,
    upper_hours: float,
    ages: Column,
    level: float = 0.95,
    tally: Tally | None = None,
    endings: Sequence[str] | None = None,
) -> WindowedLife:
    """The share of the failures by the end of a window that come by each age, F(age) / F(upper).

    Records that show failures only, such as files of claims, settle this even where they do not settle how many lamps
    fail. With the number of lamps shipped, `Tally.with_shipped`, the whole life is settled.

    Parameters
    ----------
    fit : Fit
        A fit of rows with `upper`, or of any others.
    upper_hours : float
        End of the window, hours, above 0.
    ages : array-like
        Ages above 0 and below it, hours.
    level : float
        Level of the intervals.
    tally : Tally, optional
        The one that was fitted: the intervals are then by profile likelihood. Without it they come from the curvature
        at the maximum.
    endings : list of str, optional
        The ones that were fitted; beside `tally` only.

    Returns
    -------
    WindowedLife

    Raises
    ------
    InputError
        For a window or an age outside it, each by place, a level that is not inside 0 to 1, and a tally that is not the
        fitted one.

    Examples
    --------
    >>> import relamp, warnings
    >>> ages = [1000.0 * (i / 40.5) ** 0.6 for i in range(1, 41)]
    >>> claims = relamp.lives(ages, upper=[1000.0] * 40)
    >>> with warnings.catch_warnings():
    ...     warnings.simplefilter("ignore")  # the claims alone do not settle how many lamps fail
    ...     fit = relamp.fit(claims)
    >>> window = relamp.within_window(fit, upper_hours=1000.0, ages=[500.0, 800.0])
    >>> window.shares.round(1).tolist()
    [0.3, 0.7]
    >>> relamp.within_window(fit, upper_hours=1000.0, ages=[500.0], tally=claims).method
    'profile_likelihood'
    >>> relamp.fit(claims.with_shipped(upper=[1000.0], count=[900])).identified["scale"]
    'yes'
    """

def world(causes: Mapping[str, Life] | Sequence[tuple[Mapping[str, float], Life]], costs: Costs) -> World:
    """A world from lives that are given: causes in series, and costs.

    Parameters
    ----------
    causes : dict of str to Life, or list of (dict of str to float, Life)
        A life for each ending as if it acted alone; or, where one life stands for several endings, their shares among
        its failures.
    costs : Costs
        Of a planned change, and of a failure by every ending named.

    Returns
    -------
    World

    Raises
    ------
    InputError
        For a word that is no ending, what is not a life, shares that are not numbers of at least 0, and endings without
        a cost.

    Examples
    --------
    >>> import relamp
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    >>> relamp.world({"burst": life}, costs)
    World(causes=[burst], families=[weibull], planned_cost=950)
    >>> relamp.world([({"burst": 0.1, "dim": 0.9}, life)], costs).causes
    ([('burst', 0.1), ('dim', 0.9)],)
    """
