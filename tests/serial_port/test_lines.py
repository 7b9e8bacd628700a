"""Bytes → lines: where they are cut does not matter, and a piece of a line is never a line."""

import random

from hypothesis import given
from hypothesis import strategies as st

from heatmap.serial_port.lines import LIMIT, LineAssembler, Rejected


def lines_of(pieces: list[bytes]) -> list[str | Rejected]:
    assembler = LineAssembler()
    return [line for piece in pieces for line in assembler.feed(piece)]


STREAM = b"585.2 F\r\nB3 590\nOL\r\r\n\n----\r\n" + b"x" * 300 + b"\n\xff\xfe585\n  601.5\t\n58"


def test_the_lines_of_a_stream() -> None:
    first, second, third, fourth, long, odd, last = lines_of([STREAM])
    assert [first, second, third, fourth, last] == ["585.2 F", "B3 590", "OL", "----", "601.5"]
    assert isinstance(long, Rejected)
    assert "longer than 200 bytes" in long.why
    assert isinstance(odd, Rejected)
    assert "not plain ASCII" in odd.why
    assert odd.text == r"\xff\xfe585"


def test_cut_at_every_byte_the_lines_are_the_same() -> None:
    whole = lines_of([STREAM])
    for cut in range(len(STREAM) + 1):
        assert lines_of([STREAM[:cut], STREAM[cut:]]) == whole
    assert lines_of([STREAM[n : n + 1] for n in range(len(STREAM))]) == whole


@given(st.binary(max_size=500), st.lists(st.integers(0, 500)), st.booleans())
def test_cut_anywhere_the_lines_are_the_same(data: bytes, cuts: list[int], mid_line: bool) -> None:
    whole, pieces = LineAssembler(), LineAssembler()
    assert whole.restart(mid_line=mid_line) == pieces.restart(mid_line=mid_line) == []
    expected = whole.feed(data)
    edges = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    got = [line for start, end in zip(edges, edges[1:], strict=False) for line in pieces.feed(data[start:end])]
    assert got == expected
    assert pieces._tail == whole._tail


@given(st.lists(st.sampled_from([b"585.2", b"99", b"OL", b"", b" "])), st.sampled_from([b"\n", b"\r", b"\r\n"]))
def test_any_line_end_does(texts: list[bytes], end: bytes) -> None:
    got = lines_of([b"".join(text + end for text in texts)])
    assert got == [text.decode() for text in texts if text.strip()]


def test_a_line_at_the_limit_passes_and_one_byte_more_is_rejected_whole() -> None:
    assert lines_of([b"1" * LIMIT + b"\n"]) == ["1" * LIMIT]
    (bad, after) = lines_of([b"1" * LIMIT, b"1", b"\n585\n"])
    assert isinstance(bad, Rejected)
    assert after == "585"


def test_control_signs_in_a_line_reject_it_whole() -> None:
    for sign in (b"\0", b"\x08", b"\x1b", b"\x7f", b"\x80"):
        (bad,) = lines_of([b"58" + sign + b"5\n"])
        assert isinstance(bad, Rejected)


def test_an_unfinished_line_is_dropped_by_a_restart_and_that_is_told() -> None:
    assembler = LineAssembler()
    assembler.feed(b"585\n58")
    (lost,) = assembler.restart(mid_line=True)
    assert (lost.text, "cut off" in lost.why) == ("58", True)
    first, second = assembler.feed(b"5.2\r\n590\r\n")
    assert isinstance(first, Rejected)
    assert "beginning may be missing" in first.why
    assert second == "590"


def test_after_a_restart_a_line_that_looks_like_the_ones_before_passes() -> None:
    assembler = LineAssembler()
    assembler.feed(b"585.2 F\n")
    assembler.restart(mid_line=True)
    assert assembler.feed(b"590.1 F\n") == ["590.1 F"]


def test_after_a_silent_restart_a_line_unlike_the_ones_before_counts() -> None:
    """The gun shows four digits for the first time: nothing was cut off, and nothing was under way."""
    assembler = LineAssembler()
    assembler.feed(b"985.2\n")
    assembler.restart(mid_line=False)
    assert assembler.feed(b"1002.1\n") == ["1002.1"]
    assembler.feed(b"100")
    assembler.restart(mid_line=False)  # cut off before: this may be its rest
    assert isinstance(assembler.feed(b"2\n")[0], Rejected)


def test_a_stream_that_was_cut_by_opening_gives_no_piece_of_a_number() -> None:
    stream = b"585.2\r\n585.4\r\n585.3\r\n"
    for cut in range(len(stream)):
        assembler = LineAssembler()
        assembler.restart(mid_line=True)
        got = [line for line in assembler.feed(stream[cut:]) if isinstance(line, str)]
        assert set(got) <= {"585.2", "585.4", "585.3"}
        assert got == [text for text in ("585.2", "585.4", "585.3")[3 - len(got) :]]
        if cut == 0:
            assert len(got) == 3, "nothing was cut: both first lines look alike, so all pass"


def test_a_blank_rest_ends_the_doubt() -> None:
    assembler = LineAssembler()
    assembler.restart(mid_line=True)
    assert assembler.feed(b"\n585\n") == ["585"]


def test_a_held_line_is_told_when_nothing_vouches_for_it() -> None:
    assembler = LineAssembler()
    assembler.restart(mid_line=True)
    assert assembler.feed(b"5.2\n") == []
    (lost,) = assembler.restart(mid_line=True)
    assert lost.text == "5.2"


def test_noise_does_not_fill_the_memory() -> None:
    chance = random.Random(1)
    assembler = LineAssembler()
    for _ in range(5000):
        assembler.feed(chance.randbytes(40).hex().encode() + b"\n")
    assembler.feed(b"9" * 1_000_000)
    assert len(assembler._shapes) <= 1000
    assert len(assembler._tail) <= LIMIT + 1
