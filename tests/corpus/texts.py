"""Hostile and clumsy texts: settings and captions as no sane person, or no person, writes them."""

from collections.abc import Callable
from dataclasses import dataclass

GOOD_TOML = '[sources]\nclip = "clip.mp4"\n'
GOOD_SRT = "1\n00:00:01,000 --> 00:00:03,000\nLegs first, then the body.\n"
MARKUP = "<script>alert(1)</script><img src=x onerror=alert(1)>&<b>"


@dataclass(frozen=True)
class Text:
    """One text.

    Attributes:
        name: In plain words.
        data: Its bytes.
        outcome: "works" or "refused" (settings with exit code 7, captions with 3).
        says: Regular expression that the error holds, or that the words read match.
    """

    name: str
    data: bytes | Callable[[], bytes]
    outcome: str = "refused"
    says: str = ""

    def bytes(self) -> bytes:
        """The bytes; large ones are made when asked for."""
        return self.data if isinstance(self.data, bytes) else self.data()


def toml(text: str) -> bytes:
    """A good file with more in it."""
    return (GOOD_TOML + text).encode()


SETTINGS = [
    Text("empty", b"", says="must name a recording or a clip"),
    Text("larger than 1 MiB", lambda: b"#" * (1 << 21), says="larger than 1 MiB"),
    Text("arrays 5000 deep", toml("x = " + "[" * 5000), says="not valid TOML"),
    Text("tables 3000 deep", toml("x = " + "{a=" * 3000), says="not valid TOML"),
    Text("a key of 3000 parts", toml("a" + ".a" * 3000 + " = 1"), says="TOML|extra"),
    Text("UTF-16", GOOD_TOML.encode("utf-16"), says="not valid TOML"),
    Text("Latin-1", '[episode]\ntitle = "Ergómetro"\n'.encode("latin-1"), says="not valid TOML"),
    Text("a null byte", toml('[episode]\ntitle = "a\0b"'), says="not valid TOML"),
    Text("a key twice", toml('[episode]\ntitle = "a"\ntitle = "b"'), says="not valid TOML"),
    Text("a list for a text", toml('[episode]\ntitle = ["a"]'), says="wanted str"),
    Text("a text for a number", toml('[athlete]\nheight_cm = "tall"'), says="wanted a number"),
    Text("a truth for a number", toml("[athlete]\nheight_cm = true"), says="wanted a number"),
    Text("a date for a number", toml("[athlete]\nheight_cm = 2026-11-25"), says="wanted a number"),
    Text("not a number", toml("[athlete]\nheight_cm = nan"), says="finite"),
    Text("without end", toml("[holds]\nseconds = inf"), says="finite"),
    Text("a number of 5000 digits", toml("[episode]\nnumber = " + "9" * 5000), says="TOML|number"),
    Text("a number of 400 digits", toml("[holds]\nseconds = " + "9" * 400), says="number|must be"),
    Text("an unknown name", toml("[episode]\n__class__ = 1"), says="__class__"),
    Text("a table for everything", b"sources = 3", says="sources|expected"),
    Text("crf 1000", toml("[picture]\ncrf = 1000"), says="picture.crf must be"),
    Text("an option as preset", toml('[picture]\npreset = "-f mp4 x"'), says="picture.preset"),
    Text("a path as speech model", toml('[speech]\nmodel = "../../x"'), "works"),
    Text("markup in every text", toml(f"[episode]\ntitle = '{MARKUP}'"), "works"),
    Text("line breaks in a title", toml('[episode]\ntitle = "a\\nb\\r\\u2028c"'), "works"),
    Text("Windows line ends", GOOD_TOML.replace("\n", "\r\n").encode(), "works"),
]  # fmt: skip


def cue(text: str, number: int = 1, at: int = 1) -> str:
    """One caption of two seconds."""
    return f"{number}\n00:00:{at:02},000 --> 00:00:{at + 2:02},000\n{text}\n\n"


CAPTIONS = [
    Text("empty", b"", says="holds no captions"),
    Text("blank lines", b"\n\r\n \n" * 50, says="holds no captions"),
    Text("only a heading", b"WEBVTT\n\n", says="holds no captions"),
    Text("larger than 10 MB", lambda: GOOD_SRT.encode() * 250_000, says="too large"),
    Text("a picture", b"\x89PNG\r\n\x1a\n" + bytes(3000), says="not a text file"),
    Text("UTF-16", GOOD_SRT.encode("utf-16"), "works", "Legs first"),
    Text("Windows-1252", cue("Ergómetro, señora").encode("cp1252"), "works", "Ergómetro"),
    Text("byte order mark, Windows line ends",
         b"\xef\xbb\xbf" + GOOD_SRT.replace("\n", "\r\n").encode(), "works", "Legs first"),
    Text("null bytes between the letters",
         GOOD_SRT.encode().replace(b"Legs", b"Le\0gs"), "works", "Legs first"),
    Text("times that run backwards", b"1\n00:00:09,000 --> 00:00:03,000\nLegs.\n",
         says="holds no captions"),
    Text("hours without end", b"1\n9999:00:00,000 --> 9999:00:03,000\nLegs.\n",
         says="holds no captions"),
    Text("times that are none", b"1\n-1:aa:00 --> nan\nLegs.\n", says="holds no captions"),
    Text("a time of 10000 digits", b"1\n" + b"9" * 10000 + b":00:00,000 --> 1:00:00,000\nx\n",
         says="holds no captions"),
    Text("no numbers, no blank lines", b"00:00:01,000 --> 00:00:02,000\nLegs.\n"
         b"00:00:03,000 --> 00:00:04,000\nBody.\n", "works", "Legs. Body."),
    Text("all at the same moment", "".join(cue(f"Word{i}.", i) for i in range(300)).encode(),
         "works", "Word0. Word1."),
    Text("captions over each other", b"1\n00:00:01,000 --> 00:00:09,000\nLegs.\n\n"
         b"2\n00:00:02,000 --> 00:00:03,000\nBody.\n", "works", "Legs. Body."),
    Text("markup", cue(f"Sit up {MARKUP} now.").encode(), "works", r"^Sit up alert\(1\)&"),
    Text("markup hidden in references",
         cue("Sit &lt;script&gt;alert(1)&lt;/script&gt; up.").encode(), "works", "Sit"),
    Text("a wall of brackets", lambda: cue("Sit " + "<" * 100_000 + " up.").encode(), "works",
         "^Sit"),
    Text("a wall of square brackets", lambda: cue("Sit " + "[" * 100_000 + " up.").encode(),
         "works", "^Sit"),
    Text("a wall of references", lambda: cue("Sit " + "&amp;" * 20_000 + " up.").encode(), "works",
         "^Sit"),
    Text("a word of 100000 letters", lambda: cue("Sit " + "a" * 100_000 + " up.").encode(), "works",
         "^Sit"),
    Text("letters that turn the line round", cue("Sit \u202epu\u202c up \u2066now\u2069.").encode(),
         "works", r"^Sit pu up"),
    Text("a reference to no letter",
         cue("Sit &#0;&#xD800;&#x110000; up.").encode(), "works", "Sit"),
    Text("an arrow in the words", cue("catch --> finish").encode(), "works", "catch"),
    Text("a path in the words", cue("../../etc/passwd is no cue.").encode(), "works", "passwd"),
    Text("WebVTT with styles, regions and notes",
         b"WEBVTT\n\nSTYLE\n::cue{color:red}\n\nREGION\nid:a\n\nNOTE no words\n\n"
         b"id\n00:01.000 --> 00:03.000 align:start\n<v Coach>Legs <c.x>first</c>.\n", "works",
         r"^Legs first\.$"),
]  # fmt: skip
