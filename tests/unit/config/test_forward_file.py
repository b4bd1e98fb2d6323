"""FORWARD.toml: the example is right, and each mistake is one line that names its key."""

import re
from importlib.resources import files

import pytest

from logger.config.forward_file import load_targets
from logger.errors import InputError

GOOD = """format = 1
[target.office]
url = "https://curves.example.org"
org = "works"
bucket = "rigs"
token_file = "token"
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "token").write_text("s3cret\n")
    (tmp_path / "token").chmod(0o600)
    return tmp_path


def loaded(folder, text):
    path = folder / "forward.toml"
    path.write_text(text)
    return load_targets(path)


def test_a_target_is_read_and_its_token_is_in_no_text(folder):
    target = loaded(folder, GOOD)["office"]
    assert (target.token, target.batch_lines, target.verify_tls) == ("s3cret", 5000, True)
    assert "s3cret" not in repr(target)


def test_the_example_is_right(folder):
    text = (files("configs") / "examples" / "forward.toml").read_text()
    (folder / "office.token").write_text("t")
    (folder / "office.token").chmod(0o600)
    assert set(loaded(folder, text)) == {"office"}


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (("https://", "http://"), "url"),
        (('token_file = "token"', ""), "office"),
        (('token_file = "token"', 'token_variable = "NOT_SET_HERE"'), "token_variable"),
        (('token_file = "token"', 'token_file = "gone"'), "token_file"),
        (('bucket = "rigs"', 'buckets = "rigs"'), "buckets"),
        (("https://", "ftp://"), "url"),
        (("[target.office]", "[target.'a b']"), "target"),
    ],
)
def test_a_mistake_names_file_line_and_key(folder, change, key):
    with pytest.raises(InputError) as caught:
        loaded(folder, GOOD.replace(*change))
    assert re.search(r"forward\.toml:\d", str(caught.value))
    assert key in str(caught.value)


def test_a_token_that_others_can_read_is_refused(folder):
    (folder / "token").chmod(0o640)
    with pytest.raises(InputError, match="can be read by others"):
        loaded(folder, GOOD)


@pytest.mark.parametrize("url", ["http://127.0.0.1:8086", "http://localhost:8086", "http://[::1]:8086"])
def test_plain_http_is_fine_on_this_machine(folder, url):
    assert loaded(folder, GOOD.replace("https://curves.example.org", url))
