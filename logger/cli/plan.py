"""`beadwatch plan`: what the procedure asks of a joint, as text, JSON, a card for the rig, or a table."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text, say
from logger.config.dimensions import standard_pipes
from logger.config.folders import procedure_folders
from logger.config.joint_file import load_joint, with_rig
from logger.config.procedures import available_procedures
from logger.config.rig_file import load_rig
from logger.domain.joint import Joint, PipeEnd, WallRule
from logger.domain.joint_plan import JointPlan
from logger.domain.procedure import Procedure
from logger.domain.rig import Rig
from logger.errors import ProcedureRefusal
from logger.export.card_pdf import sheet_pdf
from logger.plan.compute import compute_plan
from logger.plan.decidable import decidable_limits
from logger.plan.rig_check import with_rig_remarks
from logger.wire.plan import plan_to_json
from logger.wording.card_text import card_lines, card_of
from logger.wording.decidable_text import decidable_lines
from logger.wording.plan_text import plan_lines
from logger.wording.table_text import table_lines
from logger.wording.units import LengthUnit, PressureUnit, TemperatureUnit, Units


@dataclass(frozen=True)
class Planned:
    """A joint with its procedure and plan, and the rig where one was named."""

    joint: Joint
    procedure: Procedure
    plan: JointPlan
    rig: Rig | None


def planned(joint_file: Path, rig_file: Path | None = None) -> Planned:
    """Read a joint file, and a rig file for its area and sensors, and plan it."""
    known = available_procedures(procedure_folders())
    joint = load_joint(joint_file, known)
    rig = load_rig(rig_file).rig if rig_file is not None else None
    if rig is not None:
        joint = with_rig(joint, rig)
    procedure = known[joint.procedure]
    computed = compute_plan(joint, procedure)
    return Planned(joint, procedure, computed if rig is None else with_rig_remarks(computed, rig), rig)


def plan(
    joint_file: Annotated[Path, typer.Argument(metavar="JOINT.toml", help="The joint as entered.")],
    rig_file: Annotated[Path | None, typer.Option("--rig", metavar="RIG.toml", help="Piston area.")] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON.")] = False,
    card: Annotated[bool, typer.Option("--card", help="Write an A5 card, PDF and text.")] = False,
    table: Annotated[bool, typer.Option("--table", help="All diameters by SDR for this rig.")] = False,
    folder: Annotated[Path, typer.Option("--out", help="Folder for the card.")] = Path(),
    pressure: Annotated[PressureUnit, typer.Option(help="Unit of pressures.")] = PressureUnit.BAR,
    length: Annotated[LengthUnit, typer.Option(help="Unit of lengths.")] = LengthUnit.MM,
    temperature: Annotated[
        TemperatureUnit, typer.Option(help="Unit of temperatures.")
    ] = TemperatureUnit.DEGC,
) -> None:
    """Print the plan of a joint: pressures on the gauge, times, bead, sources, cautions."""
    result = planned(joint_file, rig_file)
    units = Units(pressure=pressure, length=length, temperature=temperature)
    if json:
        out_text(plan_to_json(result.plan))
    elif card:
        _write_card(result.joint.joint, result.plan, units, folder)
    elif table:
        out(table_lines(_all_sizes(result.joint, result.procedure), result.plan, units))
    else:
        out(plan_lines(result.plan, units))
        if result.rig is not None:
            out(["", "What this rig and its sensors can decide"])
            out(decidable_lines(decidable_limits(result.plan, result.rig), units))


def _write_card(number: str, computed: JointPlan, units: Units, folder: Path) -> None:
    sheet = card_of(number, computed, units)
    stem = "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in number)
    folder.mkdir(parents=True, exist_ok=True)
    pdf, text = folder / f"{stem}-card.pdf", folder / f"{stem}-card.txt"
    pdf.write_bytes(sheet_pdf(sheet))
    text.write_text("\n".join(card_lines(sheet)) + "\n", encoding="utf-8")
    out([str(pdf), str(text)])
    say("Check the card against your own copy of the procedure before it goes to the rig.")


def _all_sizes(joint: Joint, procedure: Procedure) -> dict[tuple[float, float], JointPlan | ProcedureRefusal]:
    """Plan every standard diameter and SDR with the joint's material, drag, ambient and rig."""
    plans: dict[tuple[float, float], JointPlan | ProcedureRefusal] = {}
    for diameter_mm, sdr in standard_pipes():
        end = PipeEnd(
            material=joint.pipe_a.material,
            outside_diameter_mm=diameter_mm,
            wall_mm=diameter_mm / sdr,
            wall_rule=WallRule.DN_OVER_SDR,
            sdr=sdr,
        )
        try:
            plans[diameter_mm, sdr] = compute_plan(replace(joint, pipe_a=end, pipe_b=end), procedure)
        except ProcedureRefusal as refusal:
            plans[diameter_mm, sdr] = refusal
    return plans
