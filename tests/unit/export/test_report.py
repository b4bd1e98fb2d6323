"""The report page, read back as an inspector would: as text, as a picture, by a code reader."""

from dataclasses import replace
from itertools import pairwise

import pypdfium2
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.phase import Phase
from logger.domain.record import Stamp, Statement
from logger.domain.sample import Sample
from logger.domain.seal import ChainHead, JointSeal, SealState
from logger.export.curves import changeover_figure, joint_figure, overlay_figure
from logger.export.figure_drawing import figure_pdf, figure_png, figure_svg, thinned
from logger.export.report_pdf import report_pdf
from logger.wording.report_text import SealText, report_of
from logger.wording.seal_text import seal_text
from tests.unit.export.dossiers import HEAD, LAST, OPERATOR, dossier_of_trace

AT = Stamp(mono_ms=5, utc="2031-05-04T08:00:00.000Z")


@pytest.fixture(scope="module")
def slow(trace_of_scenario, demo_joint_file):
    return dossier_of_trace(trace_of_scenario("slow-changeover"), demo_joint_file)


def page_of(dossier, seal=None):
    seal = seal or seal_text(dossier.seal, dossier.head)
    whole = joint_figure("Whole", dossier.samples, dossier.judgement)
    return report_pdf(report_of(dossier, [whole, changeover_figure("Changeover", whole)], seal))


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 1
    text = document[0].get_textpage().get_text_range()
    document.close()
    return " ".join(text.split())


def test_the_page_says_what_an_inspector_asks_for(slow):
    text = text_of(page_of(slow))
    for expected in (
        f"Joint {slow.record.number}, attempt 1",
        "SIMULATED",
        "10 times real time",
        "NOT conforming",
        OPERATOR,
        "not done: no checklist was recorded",
        "not done: no examination of the joint was recorded",
        "FAULT: Changeover took too long",
        "A curve cannot show dirt",
        "does not certify",
    ):
        assert expected in text


def test_the_same_joint_gives_the_same_bytes_and_another_one_does_not(slow):
    assert page_of(slow) == page_of(slow)
    assert page_of(slow) != page_of(slow, SealText(lines=("sealed",), witness="00" * 32))


def test_every_typeface_is_embedded(slow):
    page = page_of(slow)
    assert b"/FontFile2" in page
    assert b"Helvetica" not in page


def codes_of(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    picture = document[0].render(scale=3).to_pil()
    document.close()
    return [code.text for code in zxingcpp.read_barcodes(picture)]


def test_a_reader_finds_the_joint_and_the_chain_head_in_the_code(slow):
    (code,) = codes_of(page_of(slow))
    assert ChainHead.read_all(code) == (replace(LAST, utc=""), replace(HEAD, utc=""))
    for head in code.split():
        assert head in text_of(page_of(slow)).replace(" ", "")


def test_of_a_joint_of_another_record_the_code_holds_the_joint_alone(slow):
    (code,) = codes_of(page_of(replace(slow, seal=replace(slow.seal, is_local=False))))
    assert ChainHead.read_all(code) == (replace(LAST, utc=""),)


def test_what_was_skipped_and_who_looked_stand_on_the_page(trace_of_scenario, demo_joint_file):
    statements = (
        Statement(kind="preparation", author="E. Weir", at=AT, body={"item": "gap", "answer": "done"}),
        Statement(kind="preparation", author="E. Weir", at=AT, body={"item": "shelter", "answer": "skipped"}),
        Statement(kind="visual", author="N. Holt", at=AT, body={"bead_width_least": "7 mm"}),
    )
    text = text_of(page_of(dossier_of_trace(trace_of_scenario("clean"), demo_joint_file, statements)))
    assert "1 of 2 items done, by E. Weir; skipped: shelter" in text
    assert "examined by N. Holt" in text
    assert "bead width least 7 mm" in text


def test_what_was_put_on_record_afterwards_stands_on_the_page(trace_of_scenario, demo_joint_file):
    """The original verdict and entry stay where they are; a correction or an opinion is another line."""
    who = {"author": "N. Holt", "at": AT, "reason": "typing error"}
    statements = (
        Statement(kind="correction", body={"what": "place", "value": "chamber 4"}, **who),
        Statement(kind="attachment", body={"file": "bead.jpg", "sha256": "ab" * 32}, **who),
        Statement(kind="opinion", body={"verdict": "conforming", "terms": "Judged again plainly"}, **who),
        Statement(kind="sign_off", body={"closed_as": "concession", "concession_by": "E. Weir"}, **who),
    )
    text = text_of(
        page_of(dossier_of_trace(trace_of_scenario("slow-changeover"), demo_joint_file, statements))
    )
    for expected in (
        "Curve verdict of the recorded curve: NOT conforming",
        "corrected: place is chamber 4 (N. Holt, 2031-05-04 08:00: typing error)",
        f"attached: bead.jpg, SHA-256 {'ab' * 16}...",
        "opinion, not the verdict: conforming. Judged again plainly",
        "signed off as concession by E. Weir",
    ):
        assert expected in text


def test_a_curve_is_broken_at_a_gap_and_nowhere_else():
    times = [k / 10 for k in range(50)] + [8.0 + k / 10 for k in range(50)]
    figure = joint_figure("gap", [Sample(t_s=t, pressure_bar=1.0) for t in times], None)
    pieces = figure.panels[0].curves[0].pieces
    assert [len(piece) for piece in pieces] == [50, 50]
    assert figure.panels[1].curves[0].pieces == ()


@given(
    st.lists(st.tuples(st.floats(0, 60), st.floats(-5, 300)), min_size=1, max_size=400),
    st.floats(0.01, 5.0),
)
def test_thinning_keeps_the_extremes_and_invents_nothing(points, column_s):
    piece = sorted(points)
    kept = list(thinned(piece, column_s))
    assert set(kept) <= set(piece)
    assert all(a[0] <= b[0] for a, b in pairwise(kept))
    assert min(v for _, v in kept) == min(v for _, v in piece)
    assert max(v for _, v in kept) == max(v for _, v in piece)


def test_a_figure_is_the_same_in_every_form(slow):
    figure = joint_figure("Joint <K> & more", slow.samples, slow.judgement)
    assert figure_pdf(figure) == figure_pdf(figure)
    assert figure_png(figure).startswith(b"\x89PNG")
    assert b"bead-up" in figure_svg(figure)
    assert b"&lt;K&gt; &amp; more" in figure_svg(figure)


def test_an_overlay_brings_the_same_phase_over_one_another(slow, trace_of_scenario, demo_joint_file):
    clean = dossier_of_trace(trace_of_scenario("clean"), demo_joint_file)
    joints = [(name, d.samples, d.judgement) for name, d in (("slow", slow), ("clean", clean))]
    figure = overlay_figure("both", joints, at=Phase.CHANGEOVER)
    starts = {marker.phase: marker.at_s for marker in figure.markers}
    assert starts[Phase.CHANGEOVER] == 0.0
    assert [curve.name for curve in figure.panels[0].curves] == ["slow", "clean"]
    assert b"clean" in figure_svg(figure)


def test_an_empty_joint_can_still_be_drawn():
    assert figure_pdf(joint_figure("nothing", (), None)).startswith(b"%PDF")


@pytest.mark.parametrize("state", [SealState.UNSEALED, SealState.OPEN])
def test_a_joint_without_a_seal_says_so_and_carries_no_code(slow, state):
    unsealed = replace(slow, seal=JointSeal(state=state))
    text = text_of(page_of(unsealed))
    assert "nsealed" in text or "Not sealed yet" in text
    assert seal_text(unsealed.seal, unsealed.head).witness == ""


def test_a_sensor_overdue_when_the_joint_was_opened_is_named_so(slow):
    channels = (
        Channel(quantity=Quantity.PRESSURE, scaling=Scaling(), calibration_due="2031-05-03"),
        Channel(quantity=Quantity.PLATE_TEMPERATURE, scaling=Scaling(), calibration_due="2031-05-04"),
    )
    text = text_of(page_of(replace(slow, rig=replace(slow.rig, channels=channels))))
    assert "OVERDUE since 2031-05-03" in text
    assert "due 2031-05-04" in text
    assert "OVERDUE since 2031-05-04" not in text
    assert "rig fingerprint" in text
