"""Texts of findings: the code in words, measured against limit."""

from logger.domain.judgement import Finding
from logger.domain.phase import Phase

SUBJECTS: dict[str, str] = {
    Phase.BEAD_UP: "bead-up",
    Phase.HEAT_SOAK: "heat soak",
    Phase.CHANGEOVER: "changeover",
    Phase.PRESSURE_BUILD_UP: "pressure build-up",
    Phase.COOLING: "cooling",
    "plate": "plate",
    "drag": "drag",
}
_DIRECTIONS: dict[tuple[str, str], str] = {
    ("duration", "long"): "took too long",
    ("duration", "short"): "was too short",
    ("pressure", "high"): "pressure too high",
    ("pressure", "low"): "pressure too low",
    ("temperature", "high"): "temperature too high",
    ("temperature", "low"): "temperature too low",
    ("drag", "high"): "drag seen well above the confirmed one",
    ("drag", "low"): "drag seen well below the confirmed one",
    ("contact", "lost"): "faces parted",
    ("contact", "repeated"): "faces closed a second time",
    ("restart", "unfaced"): "heated again after melt contact without facing",
}


def finding_text(finding: Finding) -> str:
    """Return one line for any code `<subject>.<quantity>.<direction>`; unknown parts stay as they are."""
    what = _what(finding.code)
    if finding.measured is None:
        return f"{what}; {finding.clause}" if finding.clause else what
    figures = f"{finding.measured:.6g} {finding.unit}".rstrip()
    if finding.limit is not None:
        figures += f", limit {finding.limit:.6g} {finding.unit}".rstrip()
    return f"{what}: {figures}; {finding.clause}" if finding.clause else f"{what}: {figures}"


def _what(code: str) -> str:
    subject, _, rest = code.partition(".")
    quantity, _, direction = rest.partition(".")
    words = _DIRECTIONS.get((quantity, direction)) or f"{quantity} {direction}".replace("_", " ").strip()
    return f"{SUBJECTS.get(subject, subject.replace('_', ' ')).capitalize()} {words}".strip()
