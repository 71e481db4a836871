import json

import pytest
from click.testing import CliRunner

from studio.cli.main import cli
from studio.errors import EvidenceError, MediaError


def run(*args):
    return CliRunner().invoke(cli, [str(a) for a in args])


@pytest.mark.parametrize("name", ["strokes", "check", "models"])
def test_every_command_has_help(name):
    result = run(name, "--help")
    assert result.exit_code == 0
    assert len(result.output) > 100


def test_models_lists_what_is_there():
    result = run("models")
    assert result.exit_code == 0
    assert "pose, full" in result.output


def test_missing_and_false_files_are_media_errors(tmp_path):
    text = tmp_path / "text.mp4"
    text.write_text("no video")
    for path in (tmp_path / "none.mp4", text):
        for command in ("strokes", "check"):
            assert isinstance(run(command, path).exception, MediaError)


def test_a_clip_with_nobody_is_an_evidence_error_and_writes_nothing(tiny_clip, tmp_path):
    out = tmp_path / "strokes.json"
    result = run("strokes", tiny_clip, "--json", out, "--weights", "full")
    assert isinstance(result.exception, EvidenceError)
    assert result.exception.exit_code == 4
    assert not out.exists()


def test_check_of_an_empty_clip_says_so_kindly_and_exits_4(tiny_clip, tmp_path):
    out = tmp_path / "check.json"
    result = run("check", tiny_clip, "--json", out, "--weights", "full")
    assert isinstance(result.exception, EvidenceError)
    assert "Note for the athlete" in result.output
    plain = json.loads(out.read_text())
    assert plain["fit"] is False
    assert plain["note"].startswith("Hi, thank you")
