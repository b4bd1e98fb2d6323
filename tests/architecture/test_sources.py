"""House rules that can be read off the source tree."""

import ast
import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from logger.acquire.rtu_frame import FUNCTION_OF

ROOT = Path(__file__).parents[2]
LONGEST = 300
MODULES = [path for room in ("logger", "simulators", "tui") for path in sorted((ROOT / room).rglob("*.py"))]
PRODUCT = [path for path in MODULES if path.is_relative_to(ROOT / "logger")]
WRITE_CODES = {5, 6, 15, 16, 21, 22, 23}
"""Function codes that change something in a device (MODBUS Application Protocol V1.1b3, section 6)."""


def shown(path: Path) -> str:
    return str(path.relative_to(ROOT))


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def test_the_tree_was_found():
    assert len(PRODUCT) > 60
    assert len(MODULES) > len(PRODUCT) + 10


@pytest.mark.parametrize("path", MODULES, ids=shown)
def test_a_module_fits_a_sitting(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST


@pytest.mark.parametrize("path", MODULES, ids=shown)
def test_a_module_says_what_it_is_for_and_has_a_name_of_its_own(path):
    if path.name != "__main__.py" and path.read_text(encoding="utf-8").strip():
        assert ast.get_docstring(parsed(path))
    assert path.stem not in {"utils", "util", "helpers", "helper", "manager", "common", "misc"}


def calls_of(tree: ast.Module) -> set[str]:
    """Names of everything called, `a.b.c()` as `c`."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            target = node.func
            names.add(target.attr if isinstance(target, ast.Attribute) else getattr(target, "id", ""))
    return names


@pytest.mark.parametrize("path", PRODUCT, ids=shown)
def test_nothing_calls_a_function_that_writes_to_a_device(path):
    writers = {
        name for name in calls_of(parsed(path)) if re.match(r"(mask_)?write_(coil|register|file)", name)
    }
    assert writers == set()


def function_codes_in(tree: ast.Module) -> set[int]:
    """Whole numbers where a function code is meant: in a table, argument or comparison so named."""
    found: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            about = [ast.unparse(target) for target in targets if not isinstance(target, ast.Tuple)]
            value: ast.expr | None = node.value
        elif isinstance(node, ast.keyword):
            about, value = [node.arg or ""], node.value
        elif isinstance(node, ast.Compare):
            about, value = [ast.unparse(node.left)], node
        else:
            continue
        if value is not None and any("function" in name.lower() for name in about):
            found |= {
                c.value for c in ast.walk(value) if isinstance(c, ast.Constant) and type(c.value) is int
            }
    return found


def test_function_codes_are_recognised_where_they_stand():
    """The reader of the tree can see what it is meant to forbid."""
    for text in ("FUNCTIONS = {'x': 6}", "ask(function_code=16)", "function: int = 5", "function == 23"):
        assert function_codes_in(ast.parse(text)) & WRITE_CODES, text
    assert set(FUNCTION_OF.values()) <= function_codes_in(parsed(ROOT / "logger/acquire/rtu_frame.py"))


@pytest.mark.parametrize("path", PRODUCT, ids=shown)
def test_no_function_code_that_writes_stands_anywhere(path):
    assert function_codes_in(parsed(path)).isdisjoint(WRITE_CODES)


def texts() -> list[Path]:
    """Files of this project that people read: sources, data, documents."""
    kinds = {".py", ".toml", ".md", ".txt", ".json", ".yaml", ".yml", ".cfg", ".service", ""}
    skipped = {"build", "dist", "demo-record"}
    return [
        path
        for path in sorted(ROOT.rglob("*"))
        if path.is_file()
        and path.suffix in kinds
        and not any(part.startswith(".") and part != ".ci" for part in path.relative_to(ROOT).parts[:-1])
        and not any(
            part in skipped or part == "__pycache__" or part.endswith(".egg-info")
            for part in path.relative_to(ROOT).parts
        )
    ]


# Written in pieces, so that this file does not trip over itself.
OF_ONE_MACHINE = ["/" + "work/", "/" + "tmp/", "/" + "root/", "/" + "home/", "C:" + "\\Users"]
UNFINISHED = ["TO" + "DO", "FIX" + "ME", "XX" + "X:", "not implemented" + " yet"]
WORD = {word: re.compile(re.escape(word)) for word in (*OF_ONE_MACHINE, *UNFINISHED)}


@pytest.mark.parametrize("path", texts(), ids=shown)
def test_no_path_of_one_machine_and_nothing_left_undone(path):
    text = path.read_text(encoding="utf-8")
    assert [word for word, pattern in WORD.items() if pattern.search(text)] == []


EXAMPLES = [
    path for folder in ("examples", "demo") for path in sorted((ROOT / "configs" / folder).glob("*.toml"))
]


def test_every_shipped_configuration_is_toml():
    for path in (ROOT / "configs").rglob("*.toml"):
        assert tomllib.loads(path.read_text(encoding="utf-8")), shown(path)


@pytest.mark.parametrize("path", EXAMPLES, ids=shown)
def test_every_example_loads_as_what_its_name_says(path):
    from logger.config.joint_file import load_joint
    from logger.config.procedures import procedure_of
    from logger.config.rig_file import load_rig
    from logger.domain.channel import Quantity

    if path.stem.endswith("joint"):
        assert load_joint(path).procedure
    elif path.stem.endswith("rig"):
        assert load_rig(path).rig.channel_of(Quantity.PRESSURE) is not None
    elif path.stem.endswith("forward"):
        assert "target" in tomllib.loads(path.read_text(encoding="utf-8")), "read whole in its own test"
    else:
        assert path.stem.endswith("procedure"), "an example is a joint, a rig, a procedure or a forward file"
        assert procedure_of(path.read_text(encoding="utf-8"), path.name).steps


def test_the_example_joint_can_be_planned_on_the_example_rig():
    from logger.config.joint_file import load_joint
    from logger.config.procedures import load_procedure
    from logger.plan.compute import compute_plan

    joint = load_joint(ROOT / "configs" / "examples" / "joint.toml")
    plan = compute_plan(joint, load_procedure(joint.procedure))
    assert plan.steps[0].gauge_pressure_bar.is_given


def test_every_shipped_procedure_loads_under_its_own_name():
    from logger.config.procedures import available_procedures

    shipped = [
        entry.name for entry in (files("configs") / "procedures").iterdir() if entry.name.endswith(".toml")
    ]
    procedures = available_procedures()
    assert len(procedures) == len(shipped)
    assert all(procedure.id == name for name, procedure in procedures.items())


def test_every_shipped_scenario_loads_and_expects_something():
    from simulators.scenario import load_scenario, scenario_names

    assert len(scenario_names()) >= 21
    for name in scenario_names():
        scenario = load_scenario(name)
        assert scenario.description
        assert scenario.expected_codes or scenario.expected_verdict != "nonconforming"
