"""`beadwatch plan`: what the procedure asks of a joint."""

from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text
from logger.config.joint_file import load_joint
from logger.config.procedures import load_procedure
from logger.plan.compute import compute_plan
from logger.wire.plan import plan_to_json
from logger.wording.plan_text import plan_lines


def plan(
    joint_file: Annotated[Path, typer.Argument(metavar="JOINT.toml", help="The joint as entered.")],
    json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON.")] = False,
) -> None:
    """Print the plan of a joint: pressures on the gauge, times, bead, sources, cautions."""
    joint = load_joint(joint_file)
    computed = compute_plan(joint, load_procedure(joint.procedure))
    if json:
        out_text(plan_to_json(computed))
    else:
        out(plan_lines(computed))
