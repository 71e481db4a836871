"""`launchside outline` from a caption file alone."""

import json

from click.testing import CliRunner

from studio.cli.outline import command

SRT = """1
00:00:00,500 --> 00:00:06,000
Hello, today we've got Heron on the machine, rowing at rate twenty.

2
00:00:14,000 --> 00:00:20,000
The shins are vertical at the catch, that's lovely, keep that.

3
00:00:30,000 --> 00:00:37,000
But at the finish she's lying back much too far.

4
00:00:38,000 --> 00:00:44,000
So think about sitting tall, and stop just past upright.

5
00:00:58,000 --> 00:01:05,000
That's all, thank you, Heron, see you next week.
"""


def test_the_contract_is_written(tmp_path):
    captions, out = tmp_path / "talk.srt", tmp_path / "o.json"
    captions.write_text(SRT, encoding="utf-8")
    run = CliRunner().invoke(command, [str(captions), "--json", str(out), "--alias", "Heron"])
    assert run.exit_code == 0, run.output
    made = json.loads(out.read_text(encoding="utf-8"))
    assert (made["schema"], made["version"]) == ("launchside.outline", 1)
    assert list(made["chapters"][0]) == ["start_s", "end_s", "title", "phase", "kind"]
    assert made["chapters"][0]["start_s"] == 0
    assert {"keep", "change"} <= {p["kind"] for p in made["talking_points"]}
    assert set(made["summary"]) == {"description", "markdown", "post"}
    assert "Heron" in made["summary"]["description"]


def test_without_json_it_can_be_read(tmp_path):
    captions = tmp_path / "talk.srt"
    captions.write_text(SRT, encoding="utf-8")
    run = CliRunner().invoke(command, [str(captions)])
    assert run.exit_code == 0, run.output
    assert "0:00 " in run.output
    assert "TALKING POINTS" in run.output
