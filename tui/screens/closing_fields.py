"""What is asked of a joint that has ended: how it looks, and how it is closed."""

from logger.domain.judgement import Verdict
from tui.catalogue import label, tr
from tui.stored import StoredJoint
from tui.widgets.form import Choice, Field

YES, NO = "yes", "no"
LENGTHS = ("bead_width_least", "bead_width_greatest", "misalignment")


def _yes_no() -> tuple[Choice, ...]:
    return (Choice(value=YES, text=label("yes")), Choice(value=NO, text=label("no")))


def visual_fields(operator: str) -> tuple[Field, ...]:
    notch = (
        Choice(value="not_to_the_surface", text=tr("does not reach the pipe")),
        Choice(value="to_the_surface", text=tr("reaches the pipe or deeper")),
        Choice(value="not_examined", text=tr("not examined")),
    )
    return (
        Field(key="bead_width_least", name=tr("least bead width"), hint="mm", is_needed=True),
        Field(key="bead_width_greatest", name=tr("greatest bead width"), hint="mm", is_needed=True),
        Field(key="notch", name=tr("notch between"), choices=notch, is_closed=True, is_needed=True),
        Field(key="misalignment", name=tr("misalignment"), hint="mm", is_needed=True),
        Field(key="look", name=tr("look of the bead"), is_needed=True),
        Field(
            key="is_accepted", name=tr("accepted by eye"), choices=_yes_no(), is_closed=True, is_needed=True
        ),
        Field(key="by", name=tr("examined by"), value=operator, is_needed=True),
    )


def sign_fields(joint: StoredJoint) -> tuple[Field, ...]:
    """A nonconforming joint closes only as cut out or by concession."""
    ways = _ways()
    if joint.judgement is not None and joint.judgement.verdict is Verdict.NONCONFORMING:
        del ways["made"]
    closed_as = tuple(Choice(value=key, text=text) for key, text in ways.items())
    marked, operator = _yes_no(), joint.detail.summary.operator
    return (
        Field(
            key="is_number_marked",
            name=tr("number on the pipe"),
            choices=marked,
            is_closed=True,
            is_needed=True,
        ),
        Field(key="closed_as", name=tr("closed as"), choices=closed_as, is_closed=True, is_needed=True),
        Field(key="concession_by", name=tr("concession by")),
        Field(key="by", name=tr("signed by"), value=operator, is_needed=True),
    )


def way_text(body: dict[str, object]) -> str:
    """How a joint was closed, and by whose concession."""
    way = str(body.get("closed_as"))
    name = _ways().get(way, way)
    return " ".join(part for part in (name, str(body.get("concession_by") or "")) if part)


def _ways() -> dict[str, str]:
    return {"made": tr("made"), "cut_out": tr("cut out"), "concession": tr("concession")}
