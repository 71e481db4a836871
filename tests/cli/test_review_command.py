"""`launchside review`: what it refuses, in one line and with the right exit code."""

import socket

import pytest
from click.testing import CliRunner

from studio.cli.review import command
from studio.errors import ConfigError, OutputError


def run(*args):
    return CliRunner().invoke(command, [*map(str, args), "--no-browser"])


def test_a_folder_that_is_no_episode(tmp_path):
    error = run(tmp_path).exception
    assert isinstance(error, ConfigError)
    assert "launchside new" in str(error)


def test_a_port_that_is_taken(tmp_path):
    (tmp_path / "episode.toml").write_text('[sources]\nclip = "clip.mp4"\n')
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        error = run(tmp_path, "--port", taken.getsockname()[1]).exception
    assert isinstance(error, OutputError)
    assert "--port" in str(error)


@pytest.mark.parametrize("port", ["-1", "70000", "http"])
def test_what_is_no_port(tmp_path, port):
    assert run(tmp_path, f"--port={port}").exit_code == 2
