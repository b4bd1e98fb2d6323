"""A project's report as A4 pages of PDF: the same report gives the same bytes, fonts embedded."""

from io import BytesIO

from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer

from logger.domain.report import ProjectReport
from logger.export.fonts import PLAIN, register_fonts
from logger.export.report_pdf import MARGIN, WIDTH, boxed, paragraph, table_of

FOOT = (
    "Verdicts are those of the recorded curves, the original ones; a curve cannot show dirt, touched faces, "
    "draught or moisture. Beadwatch advises and records; it does not certify."
)


def project_pdf(report: ProjectReport) -> bytes:
    """Draw statistics and notices, then the joints, over as many pages as it takes."""
    register_fonts()
    stream = BytesIO()
    document = SimpleDocTemplate(
        stream,
        pagesize=A4,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=report.title,
        author="Beadwatch",
        invariant=True,
        initialFontName=PLAIN,
    )
    document.build(_story(report), onFirstPage=_number, onLaterPages=_number)
    return stream.getvalue()


def _story(report: ProjectReport) -> list[Flowable]:
    story: list[Flowable] = [paragraph(report.title, 14, bold=True), paragraph(report.subtitle, 8)]
    if report.banner:
        story += [Spacer(1, 3), boxed(report.banner)]
    for heading, table in report.tables:
        story += [Spacer(1, 8), paragraph(heading, 9, bold=True), table_of(table, WIDTH * 0.7, 7.5)]
    story += [
        Spacer(1, 8),
        paragraph("To be looked into" if report.notices else "Nothing stands out", 9, bold=True),
    ]
    story += [paragraph(f"• {notice}", 7.5) for notice in report.notices]
    story += [Spacer(1, 8), paragraph("Joints", 9, bold=True), table_of(report.joints, WIDTH)]
    story += [Spacer(1, 8), *(paragraph(line, 6.5) for line in (*report.seal, FOOT))]
    return story


def _number(canvas: Canvas, document: SimpleDocTemplate) -> None:
    canvas.setFont(PLAIN, 6.5)
    canvas.drawRightString(A4[0] - MARGIN, MARGIN / 2, f"page {document.page}")
