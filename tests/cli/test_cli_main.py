import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from studio.cli.main import COMMANDS, cli, main
from studio.errors import MediaError

HEAVY = ("cv2", "mediapipe", "faster_whisper", "moviepy", "scipy", "matplotlib", "av", "numpy")


@pytest.mark.parametrize(("chosen", "threads"), [(None, "1"), ("4", "4")])
def test_numpys_threads_are_held_unless_the_user_says_otherwise(chosen, threads):
    """They are read when numpy is first imported, so that nothing may import it before."""
    environment = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    environment |= {"OPENBLAS_NUM_THREADS": chosen} if chosen else {}
    code = ("import sys, studio.cli.main, os; assert 'numpy' not in sys.modules; "
            "print(os.environ['OPENBLAS_NUM_THREADS'])")  # fmt: skip
    said = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True,
                          text=True, check=True)  # fmt: skip
    assert said.stdout.strip() == threads


def test_help_imports_nothing_heavy():
    code = (
        "import sys\nfrom studio.cli.main import cli\n"
        "try: cli(['--help'])\nexcept SystemExit: pass\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith("[]")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name):
    result = CliRunner().invoke(cli, [name, "--help"])
    assert result.exit_code == 0
    assert "Usage:" in result.output


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (MediaError("x.mp4: gone.", "Look."), 3),
        (KeyboardInterrupt(), 130),
        (ZeroDivisionError(), 1),
    ],
)
def test_errors_end_in_one_line_and_their_exit_code(monkeypatch, capsys, error, code):
    def fail(**_):
        raise error

    monkeypatch.delenv("LAUNCHSIDE_DEBUG")
    monkeypatch.setattr("studio.cli.main.cli", fail)
    with pytest.raises(SystemExit) as caught:
        main()
    assert caught.value.code == code
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_new_makes_a_folder_that_can_be_opened(tmp_path, tiny_clip):
    from studio.episode import open_episode

    folder = tmp_path / "my episode"
    args = [
        "new",
        str(folder),
        "--clip",
        str(tiny_clip),
        "--alias",
        'Odd "name"\n',
        "--consent",
        "yes",
    ]
    result = CliRunner().invoke(cli, args)
    assert result.exit_code == 0, result.output
    episode = open_episode(folder)
    assert episode.source("clip").samefile(tiny_clip)
    assert episode.settings.athlete.alias == 'Odd "name"\n'
    assert CliRunner().invoke(cli, args).exception.exit_code == 6


def test_new_leaves_nothing_when_a_source_is_bad(tmp_path):
    bad = tmp_path / "bad.mp4"
    bad.write_text("not a video")
    result = CliRunner().invoke(cli, ["new", str(tmp_path / "e"), "--clip", str(bad)])
    assert result.exception.exit_code == 3
    assert not (tmp_path / "e").exists()
