"""docs/commands.md is what the commands say of themselves."""

from scripts import commands
from studio.cli.main import COMMANDS


def test_the_page_is_fresh():
    assert commands.PAGE.read_text(encoding="utf-8") == commands.page(), (
        "stale; run: python -m scripts.commands"
    )


def test_every_command_has_its_section_and_every_option_a_text():
    page = commands.PAGE.read_text(encoding="utf-8")
    for name in COMMANDS:
        assert f"\n## launchside {name}\n" in page
    rows = [line for line in page.splitlines() if line.startswith("| `")]
    assert len(rows) > 20
    assert all(line.rstrip(" |").rpartition("|")[2].strip() for line in rows)


def test_a_stale_page_is_told(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(commands, "PAGE", tmp_path / "commands.md")
    assert commands.main(["--check"]) == 1
    assert "python -m scripts.commands" in capsys.readouterr().err
    assert commands.main([]) == 0
    assert commands.main(["--check"]) == 0
