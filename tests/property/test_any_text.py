"""Every text reader takes any bytes at all: it reads them or refuses them in one line."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings as run, strategies as st

from tests.fuzz.targets import TARGETS

SEEDS = Path(__file__).parent.parent / "fuzz" / "seeds"
ORDER = sorted(TARGETS)

GOOD = st.builds(
    "00:{:02}:{:02},{:03}".format, st.integers(0, 9), st.integers(0, 59), st.integers(0, 999)
)
ODD = st.one_of(
    st.builds("{:02}:{:02}:{:02}.{:03}".format, st.integers(0, 120), st.integers(0, 70),
              st.integers(0, 70), st.integers(0, 1200)),
    st.text("0123456789:,.-> ", max_size=14),
)  # fmt: skip
STAMP = st.one_of(GOOD, GOOD, GOOD, ODD)
LINE = st.one_of(
    st.text(max_size=30),
    st.sampled_from(["<i>legs</i>", "- Catch.", "{\\an8}Finish", "[music]", "&amp;&#0;&#x110000;",
                     "<script>alert(1)</script>", "1", "", "WEBVTT", "NOTE x", "a --> b", ">> Go",
                     "\u202eback\u202c", "Hands away first, then the body. ", "½ slide"]),
)  # fmt: skip
BLOCK = st.builds(
    lambda n, a, b, lines: "\n".join([str(n), f"{a} --> {b}", *lines]),
    st.integers(-1, 9), STAMP, STAMP, st.lists(LINE, max_size=3),
)  # fmt: skip
FILES = st.builds(
    lambda head, blocks, end: (head + end.join(blocks)).encode("utf-8", "surrogatepass"),
    st.sampled_from(["", "WEBVTT\n\n", "\ufeff", "WEBVTT - x\nSTYLE\n\n"]),
    st.lists(BLOCK, max_size=6),
    st.sampled_from(["\n\n", "\n", "\r\n\r\n", "\r\r"]),
)
KEYS = st.sampled_from(
    ["episode", "sources", "athlete", "clip", "ranges", "events", "captions", "chapters", "holds",
     "points", "words", "summary", "title", "recording_s", "to_s", "action", "text", "heard",
     "height_cm", "consent", "split_at", "join_next", "start_s", "end_s", "kind", "verdict", "x"]
)  # fmt: skip
VALUES = st.recursive(
    st.one_of(
        st.booleans(), st.integers(-(2**40), 2**40), st.floats(), st.text(max_size=12),
        st.sampled_from(["rename", "move", "add", "remove", "yes", "catch", "accept"]),
        st.dates(), st.times(),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=4)
    ),
    max_leaves=12,
)  # fmt: skip


def toml(value):
    """A value as inline TOML."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, (bool, str)):
        return json.dumps(value)
    return str(value)


TOML = st.builds(
    lambda top: "\n".join(f"{k} = {toml(v)}" for k, v in top.items()).encode("utf-8", "replace"),
    st.dictionaries(KEYS, VALUES, max_size=5),
)
OPS = st.sampled_from(
    ["move_event", "wrong_stroke", "add_stroke", "move_joint", "fix_word", "caption",
     "rename_chapter", "move_chapter", "add_chapter", "remove_chapter", "move_hold",
     "lengthen_hold", "drop_hold", "add_hold", "restore", "judge_finding", "judge_point",
     "summary", "setting"]
)  # fmt: skip
NAMES = st.sampled_from(
    ["event", "from_s", "to_s", "catch_s", "wrong", "clip_s", "joint", "x_px", "y_px", "heard",
     "text", "recording_s", "changes", "also", "finish_s", "title", "seconds",
     "phase", "code", "verdict", "kind", "part", "name", "value", "what"]
)  # fmt: skip
PLAIN = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 400), st.floats(), st.text(max_size=12),
    st.sampled_from(["catch", "finish", "accept", "chapters", "{event}", "episode.title"]),
)  # fmt: skip
SENT = st.builds(
    lambda op, args: json.dumps({"op": op, "args": args}).encode(),
    OPS, st.dictionaries(NAMES, PLAIN, max_size=5),
)  # fmt: skip
ANY = st.binary(max_size=200)
JSON = st.builds(
    lambda value: json.dumps(value, default=str).encode(),
    st.recursive(
        st.one_of(st.none(), st.booleans(), st.floats(), st.text(max_size=6)),
        lambda inner: st.one_of(
            st.lists(inner, max_size=3),
            st.dictionaries(
                st.sampled_from(["chapters", "points", "notices", "key", "files", "npz", "x"]),
                inner,
                max_size=4,
            ),
        ),
        max_leaves=8,
    ),
)
LIKELY = {
    "results": JSON, "records": JSON,
    "captions": FILES, "talk": FILES, "settings": TOML, "corrections": TOML, "changes": SENT,
}  # fmt: skip


@pytest.mark.parametrize("name", ORDER)
def test_any_bytes_are_read_or_refused(name):
    @run(max_examples=60, deadline=None)
    @given(st.one_of(LIKELY.get(name, ANY), ANY))
    def tries(data):
        TARGETS[name](data)

    tries()


@pytest.mark.parametrize("path", sorted(SEEDS.glob("*.bin")), ids=lambda path: path.name)
def test_what_once_broke_a_reader_does_so_no_more(path):
    TARGETS[path.name.split("-")[0]](path.read_bytes()[1:])
