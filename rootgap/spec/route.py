"""What a run whose pieces are to be found says of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Discriminator, Field, Strict, Tag

from rootgap.spec.ends import Pose, leaning
from rootgap.spec.fields import Angle, Model, PositiveLength, ZeroOrLength, both, words_of
from rootgap.spec.words import ONE_OF

Series = Literal["LR", "SR", "3D"]

#: Between two welds, mm, a straight can be held and its roots reached (common practice, no source).
SHORTEST = 20.0
#: Off the other pieces, mm, a torch and fingers get by: the finger clearance of 10 to 15 mm that is asked of an
#: engine on rubber mounts (published article, engine swap manuals).
CLEAR = 10.0
#: Beyond the clearances of keep-outs, mm: what the tolerances of two elbows and the draw of their welds likely come to.
#: Source: ASME B16.9, 2 mm an elbow, and a welding institute's published answer on shrinkage, 1.5 mm a weld.
MARGIN = 5.0
#: Elbows, and ways to choose from.
ELBOWS, MOST_ELBOWS, MOST_WAYS = 3, 4, 9


def _counted(most: int) -> Any:
    def validator(number: int) -> int:
        if not 1 <= number <= most:
            raise ValueError(f"allowed: a whole number, 1 to {most}")
        return number

    return AfterValidator(validator)


def _each_once(kinds: tuple[Series, ...]) -> tuple[Series, ...]:
    if not kinds or len(set(kinds)) < len(kinds):
        raise ValueError('allowed: "LR", "SR" and "3D", one or several, each once')
    return kinds


class Landing(Model):
    """Where a run lands on the one that it ends on; what is left out is found."""

    station: ZeroOrLength | None = Field(default=None, description="along the axis of that run", examples=[220])
    clock: Angle | None = Field(default=None, description="round that run", examples=[90])
    lean: Annotated[Angle, AfterValidator(leaning)] = Field(
        default=90.0, description="between its gas and that run's", examples=[60]
    )


class RouteSpec(Model):
    """How a way is looked for from where a run starts to where it ends."""

    elbows: Annotated[tuple[Series, ...], AfterValidator(_each_once)] = Field(
        default=("LR", "SR"), description="kinds that may be used", examples=[["LR"]]
    )
    most: Annotated[int, Strict(), _counted(MOST_ELBOWS)] = Field(default=ELBOWS, description="elbows at most")
    shortest: PositiveLength = Field(default=SHORTEST, description="of its straights; there may be none between elbows")
    clear: ZeroOrLength = Field(default=CLEAR, description="of other pieces, and of itself", examples=[10])
    margin: ZeroOrLength = Field(default=MARGIN, description="beyond the clearance of every keep-out", examples=[3])
    behind_heads: Annotated[bool, Strict()] = Field(
        default=False, description="whether it may pass beside a head flange to behind its face"
    )
    choice: Annotated[int, Strict(), _counted(MOST_WAYS)] = Field(
        default=1, description="which of the ways found is taken, the best being 1"
    )
    to: Pose | None = Field(
        default=None,
        description="where its gas end comes to stand, unless it ends on something in place",
        examples=[{"at": [430, 200, 60], "along": [0, 1, 0]}],
    )
    land: Landing | None = Field(default=None, description="on the run that it copes onto", examples=[{"station": 220}])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for two ends."""
        if both(values, "to", "land"):
            yield "land", "allowed: to or land, not both"


def _tag(value: Any) -> str | None:
    if isinstance(value, str):
        return "<text>" if value == "solve" else None
    return "<route>" if isinstance(value, dict | RouteSpec) else None


_WORDS = words_of(RouteSpec)
Route = Annotated[
    Annotated[Literal["solve"], Tag("<text>")] | Annotated[RouteSpec, Tag("<route>")],
    Discriminator(
        _tag,
        custom_error_type=f"{ONE_OF}{' '.join(_WORDS)},solve",
        custom_error_message=f'allowed: "solve", or a table with keys such as {", ".join(_WORDS[:4])}',
    ),
]
