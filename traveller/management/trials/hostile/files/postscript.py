"""PostScript in a picture's clothes: some picture libraries hand it to a program that runs it."""

from __future__ import annotations

from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, some

# What a PostScript file of ours would write, in the system's temporary folder or beside it: looked for afterwards.
MARK = "traveller-trial-wrote-this"


def eps(program: bytes, box: bytes = b"0 0 100 100", comments: bytes = b"") -> bytes:
    return (
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: " + box + b"\n" + comments + b"%%EndComments\n" + program +
        b"\nshowpage\n%%EOF\n"
    )  # fmt: skip


@hostile("picture", ".eps", known=True)
def eps_endless(rng: Random, scale: float) -> bytes:
    """PostScript that loops for ever, 88 bytes."""
    return eps(b"{} loop")


@hostile("picture", ".eps", known=True)
def eps_error(rng: Random, scale: float) -> bytes:
    """PostScript with an error."""
    return eps(b"no-such-operator-%d" % rng.randrange(10**6))


@hostile("picture", ".eps", known=True)
def eps_writes(rng: Random, scale: float) -> bytes:
    """PostScript that writes files."""
    name = f"{MARK}-{rng.randrange(10**9)}".encode()
    places = [b"(%s/%s)" % (place, name) for place in (b"/tmp", b"/var/tmp", b".")]
    wrote = b"{ %s (w) file dup (written) writestring closefile } stopped pop"
    return eps(b"\n".join(wrote % place for place in places))


@hostile("picture", ".eps")
def eps_eats_memory(rng: Random, scale: float) -> bytes:
    """PostScript that keeps array after array."""
    return eps(b"/kept [ ] def { /kept [ kept 60000 array ] def } loop")


@hostile("picture", ".eps")
def eps_endless_comments(rng: Random, scale: float) -> bytes:
    """An EPS whose head has 1,500,000 lines of comment."""
    return eps(b"", comments=b"%%Title: a\n" * some(scale, 1_500_000))


@hostile("picture", ".eps")
def eps_vast_page(rng: Random, scale: float) -> bytes:
    """An EPS that says its page is 13,000 points wide and high."""
    return eps(b"0 0 moveto 13000 13000 lineto stroke", box=b"0 0 13000 13000")
