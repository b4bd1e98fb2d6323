"""`beadwatch commission`: closing strokes, area, lag, plate, wires and power tried; a sheet to be signed."""

import hashlib
import logging
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from logger import __version__
from logger.cli.bus_options import SocketOption
from logger.cli.commission_trials import Trials
from logger.cli.console import ask, out, say
from logger.cli.idle import refuse_while_recording
from logger.cli.places import default_store
from logger.config.rig_file import load_rig
from logger.daemon.clock import MachineClock
from logger.daemon.joint_files import rig_json
from logger.domain.commissioning import Outcome, Trial, TrialResult, rig_fingerprint
from logger.errors import BeadwatchError, InputError
from logger.export.atomic import write_whole
from logger.export.commission_pdf import commission_pdf
from logger.store.keys import Keys, KeyUse, fingerprint_of, folder_of
from logger.wire.commissioning import CommissioningModel, TrialModel
from logger.wire.model import text_of
from logger.wording.commission_text import guidance_text, key_lines, result_line, sheet_of
from logger.wording.integrator_text import FITTING_CAUTIONS
from logger.wording.report_text import banner_of

_AGAIN = "  Enter tries it again, k keeps it as it is"
_BEGIN = "  Enter begins, s skips, q ends"


def commission(
    rig_file: Annotated[Path, typer.Argument(metavar="RIG.toml", help="The rig and its wiring.")],
    by: Annotated[str, typer.Option(help="Who commissions it.")] = "",
    test: Annotated[list[Trial] | None, typer.Option(help="Only these; all by default.")] = None,
    to: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="For the sheet; beside the rig file.")
    ] = None,
    seconds: Annotated[float, typer.Option(min=1.0, max=600.0, help="How long one watch lasts.")] = 30.0,
    leak_seconds: Annotated[
        float, typer.Option(min=2.0, max=3600.0, help="And that of the leak-down.")
    ] = 120.0,
    strokes: Annotated[int, typer.Option(min=1, max=10, help="Closing strokes for the drag.")] = 3,
    store: Annotated[Path | None, typer.Option(help="The record whose keys stand on the sheet.")] = None,
    socket: SocketOption = None,
) -> None:
    """Try a rig step by step and write its commissioning sheet, to be signed. Only reads; you drive."""
    installation = load_rig(rig_file)
    if not by:
        raise InputError("is needed: a sheet without a person is none", key="--by")
    refuse_while_recording(socket, "commission")
    logging.getLogger("logger.acquire").setLevel(logging.ERROR)
    say("\n".join(FITTING_CAUTIONS))
    trials = Trials(installation=installation, seconds=seconds, leak_seconds=leak_seconds, strokes=strokes)
    results = _all_results(trials, test or list(Trial))
    if all(result.outcome is Outcome.NOT_DONE for result in results):
        say("\nnothing was tried: no sheet is written")
        return
    stamp = MachineClock().stamp()
    fingerprint = rig_fingerprint(rig_json(installation))
    keys = _key_fingerprints(store or default_store())
    rig = installation.rig
    model = CommissioningModel(
        rig=rig.name,
        serial=rig.serial,
        power_pack_serial=rig.power_pack_serial,
        rig_fingerprint=fingerprint,
        keys=keys,
        software=__version__,
        by=by,
        recorded_utc=stamp.utc,
        results=tuple(TrialModel(**asdict(result)) for result in results),
    )
    data = text_of(model).encode()
    sha256 = hashlib.sha256(data).hexdigest()
    sheet = sheet_of(rig, results, (by, stamp.utc), (fingerprint, keys), sha256)
    when = stamp.utc[:19].replace(":", "").replace("-", "")
    base = (to or rig_file.parent) / f"{rig_file.stem}.commissioning-{when}"
    files = [base.with_name(f"{base.name}.{kind}") for kind in ("json", "pdf")]
    for file, content in zip(files, (data, commission_pdf(sheet, banner_of(rig.origin, 1.0))), strict=True):
        write_whole(file, content)
    out(map(str, files))
    say("print the sheet, sign it, keep it with the rig")
    if lines := key_lines(results, stamp.utc[:10], sha256):
        out(["", *lines])
        say(f"what stands above in brackets belongs into {rig_file}")
    say(f"next: beadwatch run {rig_file}")


def _all_results(trials: Trials, wanted: list[Trial]) -> list[TrialResult]:
    """Lead through the trials; what was skipped, or not reached any more, is "not done"."""
    results: list[TrialResult] = []
    is_over = False
    for trial in Trial:
        if trial not in wanted:
            results.append(TrialResult(trial=trial, outcome=Outcome.NOT_DONE))
            continue
        for subject in trials.subjects(trial):
            done = None if is_over else _done(trials, trial, subject)
            is_over = is_over or done is None
            results += done or [TrialResult(trial=trial, subject=subject, outcome=Outcome.NOT_DONE)]
    return results


def _done(trials: Trials, trial: Trial, subject: str) -> list[TrialResult] | None:
    """Return the results of one trial, again and again until an answer is one; None where all is to end."""
    say(guidance_text(trial, subject))
    while True:
        try:
            answer = ask(_BEGIN).lower()
            if answer in ("s", "q"):
                return (
                    [TrialResult(trial=trial, subject=subject, outcome=Outcome.NOT_DONE)]
                    if answer == "s"
                    else None
                )
            results = trials.results(trial, subject)
        except (EOFError, KeyboardInterrupt):
            return None
        except (ValueError, BeadwatchError) as error:
            say(f"  {error}")
            continue
        for result in results:
            say(result_line(result))
        if _is_kept(results):
            return results


def _is_kept(results: list[TrialResult]) -> bool:
    """Ask whether a failure stands; where nobody answers it does."""
    if all(result.outcome is not Outcome.FAILED for result in results):
        return True
    try:
        return ask(_AGAIN).lower() == "k"
    except (EOFError, KeyboardInterrupt):
        return True


def _key_fingerprints(store: Path) -> dict[str, str]:
    if not folder_of(store).is_dir():
        say(f"{store} has no keys yet (beadwatch key init): the sheet will not name them")
        return {}
    keys = Keys.beside(store)
    return {str(use): fingerprint_of(keys.public(use)) for use in KeyUse}
