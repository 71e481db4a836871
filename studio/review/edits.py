"""One edit at the desk = one function on the coach's TOML documents, comments kept.

Times are given as the page shows them now. An edit of something that was put right before amends
that correction instead of stacking a second one on it, so the file stays as short as what it says.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import tomlkit

from studio.config import Corrections, Settings, structure
from studio.errors import ConfigError
from studio.review.caption_edits import caption
from studio.review.sheet import EditError, Row, Rows, Sheet, as_seconds, same

HEADER = """\
# What was put right by hand: no stage ever overwrites it. Written by the coach's desk, and made to
# be read and edited; times are in seconds.

"""
SETTINGS: dict[str, str] = {
    "athlete.alias": "name of the athlete",
    "athlete.height_cm": "height of the athlete",
    "athlete.consent": "consent",
    "athlete.under_18": "age under 18",
    "athlete.level": "level of the athlete",
    "clip.captured_fps": "capture speed",
    "episode.title": "title of the episode",
    "episode.series": "name of the series",
    "episode.coach": "name of the coach",
    "holds.seconds": "length of holds",
}
"""What the page may set in `episode.toml` (never the sources: they are paths)."""


@dataclass(frozen=True, slots=True)
class Documents:
    """Both files as text; `corrections` is empty where there is no file yet."""

    corrections: str
    episode: str

    def read(self) -> tuple[Settings, Corrections]:
        """Both, checked. Raises: ConfigError."""
        settings = structure(_plain(self.episode, "episode.toml"), Settings, "episode.toml")
        settings.check("episode.toml")
        plain = _plain(self.corrections, "corrections.toml")
        corrections = structure(plain, Corrections, "corrections.toml")
        corrections.check("corrections.toml")
        return settings, corrections


def _plain(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except ValueError as error:
        raise ConfigError(f"{name}: not valid TOML ({error}).", "Mend that line.") from error


def _move(rows: Rows, action: str, recording_s: float, to_s: float) -> None:
    """Move a chapter or hold: what was added goes itself, what was moved is moved on."""
    recording_s, to_s = as_seconds(recording_s), as_seconds(to_s)
    added = rows.find("recording_s", recording_s, action="add")
    moved = rows.find("to_s", recording_s, action="move")
    if added is not None:
        added["recording_s"] = to_s
    elif moved is not None:
        if same(moved["recording_s"], to_s):
            rows.remove(moved)
        else:
            moved["to_s"] = to_s
    else:
        rows.add({"action": action, "recording_s": recording_s, "to_s": to_s})


def _amend(rows: Rows, action: str, at_s: float, key: str, value: object) -> None:
    """Rename or lengthen what is now at `at_s`.

    Corrections are applied in order and each finds its thing where those before it have left it.
    So this one names the place as made, and comes before a move.
    """
    added = rows.find("recording_s", at_s, action="add")
    known = rows.find("recording_s", _origin(rows, at_s), action=action)
    row = known if added is None else added
    if row is not None:
        row[key] = value
        return
    moved = rows.find("to_s", at_s, action="move")
    move = None if moved is None else dict(moved)
    if moved is not None:
        rows.remove(moved)
    origin = at_s if move is None else move["recording_s"]
    rows.add({"action": action, "recording_s": origin, key: value})
    if move is not None:
        rows.add(move)


def _origin(rows: Rows, recording_s: float) -> float:
    """Where the thing that is now at `recording_s` was as made."""
    moved = rows.find("to_s", recording_s, action="move")
    return float(moved["recording_s"]) if moved is not None else recording_s


def move_event(doc: Sheet, event: str, from_s: float, to_s: float) -> None:
    """A catch or finish; clip time."""
    if event not in ("catch", "finish"):
        raise EditError(f'An event is a "catch" or a "finish", not {event!r}.')
    rows, from_s, to_s = Rows(doc, "events"), as_seconds(from_s), as_seconds(to_s)
    added = Rows(doc, "added_strokes").find(f"{event}_s", from_s)
    moved = rows.find("to_s", from_s, event=event)
    if added is not None:  # what was added goes itself
        added[f"{event}_s"] = to_s
    elif moved is None:
        rows.add({"event": event, "from_s": from_s, "to_s": to_s})
    elif same(moved["from_s"], to_s):
        rows.remove(moved)
    else:
        moved["to_s"] = to_s


def wrong_stroke(doc: Sheet, catch_s: float, wrong: bool) -> None:
    """Mark the stroke of a catch as none, or take the mark off; clip time.

    One that was added by hand is taken out.
    """
    rows, catch_s = Rows(doc, "wrong_strokes"), as_seconds(catch_s)
    added = Rows(doc, "added_strokes")
    mine = added.find("catch_s", catch_s)
    if wrong and mine is not None:
        added.remove(mine)
        return
    marked = rows.find("catch_s", catch_s)
    if wrong and marked is None:
        rows.add({"catch_s": catch_s})
    elif not wrong and marked is not None:
        rows.remove(marked)


def add_stroke(doc: Sheet, catch_s: float, finish_s: float) -> None:
    """A stroke that was missed; clip time."""
    Rows(doc, "added_strokes").add(
        {"catch_s": as_seconds(catch_s), "finish_s": as_seconds(finish_s)}
    )


def move_joint(doc: Sheet, clip_s: float, joint: str, x_px: float, y_px: float) -> None:
    """A point of the body on one frame; clip time, clip pixels."""
    rows, clip_s = Rows(doc, "joints"), as_seconds(clip_s)
    row = rows.find("clip_s", clip_s, joint=joint)
    x_px, y_px = round(float(x_px), 1), round(float(y_px), 1)
    if row is None:
        rows.add({"clip_s": clip_s, "joint": joint, "x_px": x_px, "y_px": y_px})
    else:
        row["x_px"], row["y_px"] = x_px, y_px


def reset_joint(doc: Sheet, clip_s: float, joint: str) -> None:
    """Take a moved point back to where it was seen."""
    rows = Rows(doc, "joints")
    row = rows.find("clip_s", as_seconds(clip_s), joint=joint)
    if row is not None:
        rows.remove(row)


def fix_word(doc: Sheet, heard: str, text: str) -> None:
    """A misheard word or phrase, wherever it occurs; `text` = `heard` takes the fix back."""
    heard, text = " ".join(heard.split()), " ".join(text.split())
    if not heard:
        raise EditError("Say which word was misheard.")
    rows = Rows(doc, "words")
    row = rows.find("heard", heard)
    if row is not None and text == heard:
        rows.remove(row)
    elif row is not None:
        row["text"] = text
    elif text != heard:
        rows.add({"heard": heard, "text": text})


def rename_chapter(doc: Sheet, recording_s: float, title: str) -> None:
    """Another title for the chapter that starts here; recording time."""
    title = " ".join(title.split())
    if not title:
        raise EditError("A chapter needs a title.")
    _amend(Rows(doc, "chapters"), "rename", as_seconds(recording_s), "title", title)


def move_chapter(doc: Sheet, recording_s: float, to_s: float) -> None:
    """Another start; recording time."""
    _move(Rows(doc, "chapters"), "move", recording_s, to_s)


def add_chapter(doc: Sheet, recording_s: float, title: str) -> None:
    """A new chapter from here on; recording time."""
    rows = Rows(doc, "chapters")
    rows.add(
        {"action": "add", "recording_s": as_seconds(recording_s), "title": " ".join(title.split())}
    )


def remove_chapter(doc: Sheet, recording_s: float) -> None:
    """The one before goes on through it; recording time."""
    _remove(Rows(doc, "chapters"), recording_s, "remove", ("rename", "move"))


def _remove(rows: Rows, recording_s: float, action: str, overruled: tuple[str, ...]) -> None:
    at = as_seconds(recording_s)
    added = rows.find("recording_s", at, action="add")
    if added is not None:
        rows.remove(added)
        return
    origin = _origin(rows, at)
    for name in overruled:
        row = rows.find("recording_s", origin, action=name)
        if row is not None:
            rows.remove(row)
    rows.add({"action": action, "recording_s": origin})


def restore(doc: Sheet, what: str, recording_s: float) -> None:
    """Put a removed chapter or a dropped hold back; recording time."""
    actions = {"chapters": "remove", "holds": "drop"}
    if what not in actions:
        raise EditError('What can be put back are "chapters" and "holds".')
    rows = Rows(doc, what)
    row = rows.find("recording_s", as_seconds(recording_s), action=actions[what])
    if row is not None:
        rows.remove(row)


def move_hold(doc: Sheet, recording_s: float, to_s: float) -> None:
    """Freeze at another moment; recording time."""
    _move(Rows(doc, "holds"), "move", recording_s, to_s)


def lengthen_hold(doc: Sheet, recording_s: float, seconds: float) -> None:
    """Another length, in seconds of program."""
    if not 0.5 <= seconds <= 30:
        raise EditError("A hold lasts 0.5 to 30 seconds.")
    seconds = round(float(seconds), 2)
    _amend(Rows(doc, "holds"), "lengthen", as_seconds(recording_s), "seconds", seconds)


def drop_hold(doc: Sheet, recording_s: float) -> None:
    """No hold here; recording time."""
    _remove(Rows(doc, "holds"), recording_s, "drop", ("move", "lengthen"))


def add_hold(doc: Sheet, recording_s: float, phase: str, seconds: float) -> None:
    """Freeze what is on screen now; recording time."""
    if phase not in ("", "catch", "finish"):
        raise EditError('A hold is on a "catch" or a "finish".')
    row = {"action": "add", "recording_s": as_seconds(recording_s), "phase": phase or None}
    Rows(doc, "holds").add(row | {"seconds": round(float(seconds), 2)})


def judge_finding(doc: Sheet, code: str, verdict: str) -> None:
    """Accept or reject a finding, or leave it open with an empty verdict."""
    _judge(Rows(doc, "findings"), "code", code, {"code": code}, verdict)


def judge_point(doc: Sheet, kind: str, recording_s: float, verdict: str) -> None:
    """The same for a talking point, found by its start; recording time."""
    at = as_seconds(recording_s)
    _judge(Rows(doc, "points"), "recording_s", at, {"kind": kind, "recording_s": at}, verdict)


def _judge(rows: Rows, key: str, value: float | str, row: Row, verdict: str) -> None:
    if verdict not in ("", "accept", "reject"):
        raise EditError('A verdict is "accept", "reject" or "".')
    also = {k: v for k, v in row.items() if k != key}
    known = rows.find(key, value, **also)
    if known is not None and not verdict:
        rows.remove(known)
    elif known is not None:
        known["verdict"] = verdict
    elif verdict:
        rows.add(row | {"verdict": verdict})


def summary(doc: Sheet, part: str, text: str) -> None:
    """Replace one of the three texts; an empty text goes back to the one that is made."""
    if part not in ("description", "markdown", "post"):
        raise EditError("The summary has a description, a markdown and a post.")
    if "summary" not in doc.document:
        doc.document.append("summary", tomlkit.table())
    table: Any = doc.document["summary"]
    if text.strip():
        table[part] = tomlkit.string(text, multiline="\n" in text)
    else:
        table.pop(part, None)
    if not table:
        del doc.document["summary"]


def setting(doc: Sheet, name: str, value: str | float | bool) -> None:
    """One entry of `episode.toml`, of those in `SETTINGS`."""
    if name not in SETTINGS:
        raise EditError(f"{name} cannot be set here.", "Edit episode.toml.")
    section, key = name.split(".")
    if section not in doc.document:
        doc.document.append(section, tomlkit.table())
    table: Any = doc.document[section]
    table[key] = float(value) if key in ("height_cm", "captured_fps", "seconds") else value


OPS: dict[str, tuple[Callable[..., None], str]] = {
    "move_event": (move_event, "move a {event}"),
    "wrong_stroke": (wrong_stroke, "mark a stroke"),
    "add_stroke": (add_stroke, "add a stroke"),
    "move_joint": (move_joint, "move the {joint}"),
    "reset_joint": (reset_joint, "put the {joint} back"),
    "fix_word": (fix_word, "mend “{heard}”"),
    "caption": (caption, "edit a caption"),
    "rename_chapter": (rename_chapter, "rename a chapter"),
    "move_chapter": (move_chapter, "move a chapter"),
    "add_chapter": (add_chapter, "add a chapter"),
    "remove_chapter": (remove_chapter, "remove a chapter"),
    "move_hold": (move_hold, "move a hold"),
    "lengthen_hold": (lengthen_hold, "set a hold's length"),
    "add_hold": (add_hold, "add a hold"),
    "drop_hold": (drop_hold, "drop a hold"),
    "restore": (restore, "put one of the {what} back"),
    "judge_finding": (judge_finding, "judge a finding"),
    "judge_point": (judge_point, "judge a talking point"),
    "summary": (summary, "edit the {part}"),
    "setting": (setting, "set the {setting}"),
}
"""Name -> what it does to its document, and what the undo button calls it."""


def apply(now: Documents, op: str, args: Mapping[str, Any]) -> tuple[Documents, str]:
    """The documents after one edit, and its name for the undo button.

    Raises:
        EditError: No such edit, or it cannot be made.
        ConfigError: The files would not be valid any more.
    """
    if op not in OPS:
        raise EditError(f"There is no edit called {op!r}.")
    function, label = OPS[op]
    text = now.episode if op == "setting" else now.corrections or HEADER
    sheet = Sheet(text)
    try:
        function(sheet, **args)
    except (TypeError, ValueError, AttributeError) as error:
        raise EditError(f"{op}: {error}") from error
    made = tomlkit.dumps(sheet.document)
    after = Documents(now.corrections, made) if op == "setting" else Documents(made, now.episode)
    after.read()
    words = {"setting": SETTINGS.get(str(args.get("name")), "")}
    return after, label.format(**args, **words)
