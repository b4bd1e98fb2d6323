"""What `beadwatch demo` has to show, wherever it runs."""

from pathlib import Path

PHASES = ("bead-up", "heat soak", "changeover", "pressure build-up", "cooling")


def check_shown(printed: str, verdict: str, finding: str | None, store: Path) -> str:
    """Five phases in order against their plan, findings, verdict, record; returns the command to try next."""
    lines = printed.splitlines()
    begins = [next(k for k, line in enumerate(lines) if f"  {phase} begins" in line) for phase in PHASES]
    assert begins == sorted(begins)
    assert all("gauge" in lines[k] and "plan" in lines[k] for k in begins)
    assert f"verdict of the recorded curve: {verdict}\n" in printed
    assert ("Findings: none" in lines) == (finding is None)
    assert finding is None or finding in printed
    assert f"Record: {store}" in printed
    return next(line for line in lines if line.startswith("Next:")).removeprefix("Next:").strip()
