"""The project's report, read back as text."""

from dataclasses import replace

import pypdfium2

from logger.domain.record import HowEnded, JointEnd, RecorderOff, Stamp, Statement
from logger.export.project_pdf import project_pdf
from logger.wording.project_text import Conspicuous, joint_name, project_report_of
from tests.unit.export.dossiers import OPENED, dossier_of_trace

AT = Stamp(mono_ms=5, utc="2031-05-04T08:00:00.000Z")
OPINION = Statement(
    kind="opinion",
    author="E. Weir",
    reason="asked by the owner",
    at=AT,
    body={"terms": "Judged again plainly", "verdict": "conforming"},
)


def pages_of(pdf):
    document = pypdfium2.PdfDocument(pdf)
    texts = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    document.close()
    return texts


def test_statistics_what_is_missing_and_every_joint(trace_of_scenario, demo_joint_file):
    slow = dossier_of_trace(trace_of_scenario("slow-changeover"), demo_joint_file, (OPINION,))
    cut = replace(
        slow,
        record=replace(
            slow.record,
            number="K-201",
            attempt=2,
            previous_uuid="00000000-0000-4000-8000-000000000009",
            end=JointEnd(how=HowEnded.ABORTED, reason="rain", at=OPENED),
        ),
        statements=(),
    )
    joints = [slow, *[cut] * 60]
    conspicuous = Conspicuous(
        missing=["K-118"], alike=[(joint_name(slow), joint_name(cut))], without_dip=["K-3-1"],
        recorder_off=[
            RecorderOff(from_utc="2031-05-04T08:00:00.000Z", to_utc="2031-05-04T09:00:00.000Z", reason=why)
            for why in ("stopped", "killed or power lost")
        ],
    )  # fmt: skip
    report = project_report_of("Lindental", joints, conspicuous, ("Chain head abc",))
    pdf = project_pdf(report)
    assert pdf == project_pdf(report)
    pages = pages_of(pdf)
    assert len(pages) > 1
    for expected in (
        "Project Lindental",
        "61 joints, opened 2031-05-04 to 2031-05-04",
        "SIMULATED",
        "NOT conforming 61 100.0 %",
        "changeover.duration.long fault 61",
        "Numbers that are not there: K-118",
        "Broken off or interrupted: K-201-2 [simulated x10]",
        "Not conforming and not closed: K-117-1 [simulated x10], K-201-2 [simulated x10]",
        "The recorder was off 2 times within this time",
        "off from 2031-05-04T08:00:00.000Z to 2031-05-04T09:00:00.000Z: killed or power lost",
        "original verdict NOT conforming; opinion of E. Weir",
        "one curve recorded twice?",
        "K-201-2 [simulated x10] follows attempt 1",
    ):
        assert expected in pages[0]
    assert "Chain head abc" in pages[-1]
    assert "page 2" in pages[1]
    assert " ".join(pages).count("not signed off") == 61


def test_how_a_joint_was_closed_stands_in_its_line(trace_of_scenario, demo_joint_file):
    def closed(number: str, **body: str):
        said = Statement(kind="sign_off", author="E. Weir", at=AT, body=body)
        slow = dossier_of_trace(trace_of_scenario("slow-changeover"), demo_joint_file, (said,))
        return replace(slow, record=replace(slow.record, number=number))

    joints = [
        closed("K-1", closed_as="cut_out", concession_by=""),
        closed("K-2", closed_as="concession", concession_by="N. Holt"),
    ]
    (page,) = pages_of(
        project_pdf(project_report_of("P", joints, Conspicuous(missing=(), alike=(), without_dip=()), ()))
    )
    assert "Cut out: K-1-1 [simulated x10]" in page
    assert "concession by N. Holt" in page
    assert "not closed" not in page
    assert "recorder was off" not in page
