"""Media as it comes: every kind of file a coach may be sent, made at test time, with its outcome.

`CASES` is the table; `docs/solid.md` shows it and a test keeps the two the same. Pictures are
small: what is tried is the container, the codec and the damage, not the content.
"""

import os
import shutil
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.small_episode import ffmpeg

TONE = ("-f", "lavfi", "-i", "sine=f=440:r=48000:d=1")
X264 = ("-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p")


def picture(rate="30", size="160x96", seconds=1.0):
    return ("-f", "lavfi", "-i", f"testsrc2=s={size}:r={rate}:d={seconds}")


@dataclass(frozen=True)
class Case:
    """One kind of file.

    Attributes:
        name: What the coach would call it.
        make: Writes it under the folder given; returns its path.
        outcome: "works", "told" (works, with a notice that holds `says`) or "refused" (exit code 3,
            with a message that holds `says`).
        says: Regular expression for part of what the coach is told.
        frames: That must come out of it, where that is known.
        size: Displayed, where it is not 160 x 96.
    """

    name: str
    make: Callable[[Path], Path]
    outcome: str = "works"
    says: str = ""
    frames: int | None = 30
    size: tuple[int, int] = (160, 96)


def written(name, *options, source=None, sound=TONE, codec=X264, pre=()):
    """A file that ffmpeg writes from the test picture and a tone."""

    def make(folder):
        path = folder / name
        inputs = [*pre, *(source or picture())]
        ffmpeg(*inputs, *sound, *codec, *options, "file:" + str(path))
        return path

    return make


def remade(name, *options, pre=(), first="plain.mp4"):
    """A copy of a plain file, without encoding again."""

    def make(folder):
        plain = written(first)(folder)
        path = folder / name
        ffmpeg(*pre, "-i", plain, "-c", "copy", *options, "file:" + str(path))
        return path

    return make


def holding(name, data):
    """A file of the given bytes."""

    def make(folder):
        path = folder / name
        path.write_bytes(data)
        return path

    return make


def named(name):
    """A plain file under an odd name."""

    def make(folder):
        plain = written("plain.mp4")(folder)
        return Path(shutil.move(plain, folder / name))

    return make


def cut(share):
    """A plain file that ends early; its index stands at the front, as phones and sites send it."""

    def make(folder):
        path = remade("cut.mp4", "-movflags", "+faststart")(folder)
        data = path.read_bytes()
        path.write_bytes(data[: int(len(data) * share)])
        return path

    return make


def folder_named_like_a_video(folder):
    path = folder / "folder.mp4"
    path.mkdir()
    return path


def late_sound(folder):
    """Sound from half a second on."""
    plain = written("plain.mp4")(folder)
    path = folder / "late.mkv"
    ffmpeg("-i", plain, "-itsoffset", 0.5, "-i", plain, "-map", "0:v", "-map", "1:a",
           "-c", "copy", path)  # fmt: skip
    return path


def cover_first(folder):
    """A music-player style file: a cover image as the first picture track."""
    plain = written("plain.mp4")(folder)
    cover = folder / "cover.png"
    ffmpeg("-f", "lavfi", "-i", "color=s=64x64:d=1", "-frames:v", 1, cover)
    path = folder / "cover.mp4"
    ffmpeg("-i", cover, "-i", plain, "-map", "0:v", "-map", "1", "-c", "copy",
           "-disposition:v:0", "attached_pic", path)  # fmt: skip
    return path


def pipe_named_like_a_video(folder):
    """Nobody ever writes to it: opening it would wait for ever."""
    path = folder / "pipe.mp4"
    os.mkfifo(path)
    return path


def link_to_itself(folder):
    path = folder / "loop.mp4"
    path.symlink_to(path)
    return path


def huge_drawing(folder, side=20000):
    """A black picture of `side` by `side` in 50 kB (ISO/IEC 15948)."""

    def chunk(kind, data):
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((side // 8 + 1) * side), 1)
    chunks = chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    path = folder / "huge.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunks)
    return path


def two_sizes(folder):
    """The picture's size changes half way, as in a call whose line gets worse."""
    halves = []
    for size, start in (("160x96", 0), ("80x48", 0.5)):
        source = picture(size=size, seconds=0.5)
        late = ("-output_ts_offset", start)
        halves.append(written(f"{size}.ts", *late, source=source, sound=())(folder))
    path = folder / "two.ts"
    path.write_bytes(b"".join(half.read_bytes() for half in halves))
    return path


def list_of_another(folder):
    """A list, named like a video, of a video that stands beside it."""
    written("plain.mp4")(folder)
    return holding("list.mp4", b"ffconcat version 1.0\nfile 'plain.mp4'\n")(folder)


HLS = b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nhttp://127.0.0.1:9/a.ts\n#EXT-X-ENDLIST\n"
SDP = b"v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=video 9 RTP/AVP 96\n"
HEVC = ("-c:v", "libx265", "-preset", "ultrafast", "-pix_fmt", "yuv420p10le", "-tag:v", "hvc1")


def hdr(transfer):
    """H.265 options for high dynamic range."""
    return (*HEVC, "-x265-params", f"log-level=none:colorprim=bt2020:transfer={transfer}"
            ":colormatrix=bt2020nc")  # fmt: skip


VARYING = ("-vf", "select='not(eq(mod(n,7),3))+gt(n,25)',setpts='PTS+if(gt(N,9),0.21/TB,0)'",
           "-fps_mode", "vfr", "-enc_time_base", "1/90000")  # fmt: skip
SCREEN = ("-vf", "select='lt(n,8)+gt(n,14)',setpts='PTS+0.004/TB*mod(N,3)'", "-fps_mode", "vfr",
          "-enc_time_base", "1/90000")  # fmt: skip

CASES = [
    Case("H.264 and AAC in MP4", written("plain.mp4")),
    Case("phone clip with a varying frame rate", written("vfr.mp4", *VARYING), "told",
         "frame rate varies", None),
    Case("screen recording with a varying frame rate", written("screen.mkv", *SCREEN), "told",
         "frame rate varies", None),
    *(Case(f"display turned by {turn} degrees",
           remade("turned.mp4", pre=("-display_rotation", str(-turn))), "told",
           f"turned by {turn} degrees", size=(96, 160) if turn != 180 else (160, 96))
      for turn in (90, 180, 270)),
    Case("mirrored display", remade("mirror.mp4", pre=("-display_hflip",)), "told", "mirrored"),
    Case("turned and mirrored display",
         remade("both.mp4", pre=("-display_rotation", "90", "-display_hflip")), "told", "mirrored",
         size=(96, 160)),
    Case("10-bit H.265 in ordinary range", written("main10.mp4", codec=hdr("bt709"))),
    Case("10-bit H.265, HLG", written("hlg.mp4", codec=hdr("arib-std-b67")), "told", r"\(HLG\)"),
    Case("10-bit H.265, PQ", written("pq.mov", codec=hdr("smpte2084")), "told", r"\(PQ\)"),
    Case("AV1 in MP4", written("av1.mp4", codec=("-c:v", "libsvtav1", "-preset", "12",
                                                 "-svtav1-params", "lp=1"))),
    Case("VP9 and Opus in WebM", written("vp9.webm", codec=(
        "-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8", "-c:a", "libopus"))),
    Case("AV1 in WebM", written("av1.webm", codec=(
        "-c:v", "libaom-av1", "-cpu-used", "8", "-threads", "1", "-c:a", "libopus"))),
    Case("VP8 and Vorbis in WebM", written("vp8.webm", codec=(
        "-c:v", "libvpx", "-deadline", "realtime", "-c:a", "libvorbis"))),
    Case("Matroska", written("x.mkv")),
    Case("transport stream, its clock beginning at 1.4 s", written("x.ts")),
    Case("MP4 in fragments", written("x.mp4", "-movflags", "frag_keyframe+empty_moov")),
    Case("a clock that begins at 10 s", written("x.mkv", "-output_ts_offset", "10")),
    Case("frames that refer to later ones", written("x.mp4", "-bf", "3")),
    Case("H.264 with full colour", written("x.mp4", codec=(*X264[:-1], "yuv444p"))),
    Case("H.264 in full range", written("x.mp4", codec=(*X264[:-1], "yuvj420p"))),
    Case("interlaced H.264", written("x.mp4", "-flags", "+ildct+ilme", "-x264opts", "tff=1")),
    Case("ProRes in QuickTime", written("x.mov", codec=(
        "-c:v", "prores_ks", "-pix_fmt", "yuv422p10le"))),
    Case("MPEG-4 part 2 in AVI", written("x.avi", codec=("-c:v", "mpeg4"))),
    Case("a picture that changes its size half way", two_sizes, "told", "no sound"),
    Case("QuickTime", written("x.mov")),
    Case("Motion JPEG in AVI", written("x.avi", codec=("-c:v", "mjpeg", "-pix_fmt", "yuvj420p"))),
    *(Case(f"{shown} frames a second", written("rate.mp4", source=picture(rate=rate)),
           frames=count)
      for shown, rate, count in (("23.976", "24000/1001", 24), ("29.97", "30000/1001", 30),
                                 ("59.94", "60000/1001", 60))),
    Case("240 frames a second", written("fast.mp4", source=picture(rate="240")), "told",
         "Filmed at 240", 240),
    Case("slow motion that says so", remade(
        "slow.mp4", "-metadata", "com.android.capture.fps=240.0", "-movflags",
        "use_metadata_tags"), "told", "8 times slower"),
    Case("an edit list that skips the beginning", remade("edit.mp4", pre=("-ss", "0.4")),
         frames=None),
    Case("slow motion that does not say so", written("slow.mp4", "-vf", "setpts=4*PTS", "-r", "30",
         sound=()), "told", "There is no sound", None),
    Case("sound that starts late", late_sound, "told", r"sound starts 0\.48 s"),
    Case("sound that ends early", written("early.mp4", sound=(
        "-f", "lavfi", "-i", "sine=f=440:d=0.3"))),
    Case("no sound", written("mute.mp4", sound=()), "told", "There is no sound"),
    Case("one channel at 44.1 kHz", written("mono.mp4", "-ac", "1", "-ar", "44100")),
    Case("six channels", written("six.mp4", "-ac", "6")),
    Case("sound at 96 kHz", written("x.mkv", "-c:a", "flac", "-ar", "96000")),
    Case("two sound tracks", written("x.mkv", "-map", "0:v", "-map", "1:a", "-map", "1:a")),
    Case("silence", written("silent.mp4", sound=("-f", "lavfi", "-i", "anullsrc=d=1"),
                            codec=(*X264, "-shortest")), frames=None),
    Case("odd width and height", written(
        "odd.mp4", source=picture(size="161x97"),
        codec=("-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv444p"))),
    Case("pixels that are not square", written("wide.mp4", "-vf", "setsar=4/3"), "told",
         "not square", size=(212, 96)),
    Case("4K", written("4k.mp4", source=picture(size="3840x2160", seconds=0.2)), frames=6,
         size=(3840, 2160)),
    Case("a very small picture", written("x.mp4", source=picture(size="16x16")), size=(16, 16)),
    Case("an upright picture", written("x.mp4", source=picture(size="96x160")), size=(96, 160)),
    Case("a picture of 20000 by 20000", huge_drawing, "refused", "cannot be read|single picture"),
    Case("a cover image as its first picture", cover_first),
    Case("one single frame", written("one.mp4", "-frames:v", "1"), frames=1),
    Case("a still image", written("still.png", "-frames:v", "1", sound=(), codec=()), "refused",
         "holds a single picture"),
    Case("an animated image", written("moves.gif", sound=(), codec=()), "told",
         "There is no sound", None),
    Case("sound alone", written("sound.m4a", source=TONE, sound=(), codec=()), "refused",
         "holds no picture"),
    Case("an empty file", holding("empty.mp4", b""), "refused", "cannot be read as a video"),
    Case("text named like a video", holding("text.mp4", b"Dear coach, here is my clip.\n" * 40),
         "refused", "cannot be read as a video"),
    Case("bytes without sense", holding("noise.mp4", bytes(range(256)) * 40), "refused",
         "cannot be read as a video"),
    Case("captions named like a video",
         holding("x.mp4", b"1\n00:00:01,000 --> 00:00:02,000\nlegs\n\n" * 9), "refused",
         "holds no picture|cannot be read"),
    Case("a playlist that names a web address", holding("x.mp4", HLS), "refused",
         "cannot be read as a video"),
    Case("a list that names another file", list_of_another, "refused",
         "cannot be read as a video"),
    Case("a session that waits for a sender", holding("x.mp4", SDP), "refused",
         "cannot be read as a video"),
    Case("a named pipe", pipe_named_like_a_video, "refused", "not a file"),
    Case("a link to itself", link_to_itself, "refused", "not a file"),
    Case("a folder", folder_named_like_a_video, "refused", "not a file"),
    Case("nothing there", lambda folder: folder / "gone.mp4", "refused", "no such file"),
    *(Case(f"a name with {what}", named(name)) for what, name in (
        ("spaces", " my  clip .mp4"), ("quotes", "it's \"mine\" `$(x)`;.mp4"),
        ("a line break", "two\nlines.mp4"), ("emoji and other scripts", "🚣 ręka 舟 سباق.mp4"),
        ("a leading dash", "-i.mp4"), ("a colon and percent signs", "http:%2F%03d%s.mp4"),
        ("markup", "<script>alert(1)<~script>&amp;.mp4"))),
    Case("a name that is no text", named(os.fsdecode(b"caf\xe9.mp4")), "refused", "Rename"),
]  # fmt: skip
