"""Who is who at a site: a name as it is written down, and which names are one person's.

Any name is good: 张伟, Ngô Thị Hằng, محمد, Łukasz, O'Brien. Names that differ only in how they are typed are the same
person: letter case (also the Turkish i with and without its dot, and ß for SS), composed or combined accents,
full-width letters, the shape of an apostrophe, invisible joiners. An accent more or less is another person: José is
not Jose. Whoever was there first keeps the spelling.
"""

from __future__ import annotations

import unicodedata

from sites.models import Person, Site

LETTERS_MAX = 80
# Invisible, but part of how Persian is spelt and how emoji are put together.
JOINERS = "\u200c\u200d"
APOSTROPHES = dict.fromkeys(map(ord, "\u2018\u2019\u02bc\uff07"), "'")


def written(typed: str) -> str:
    """A name as it is kept: blanks made single, nothing that cannot be seen, at most 80 letters; maybe nothing."""
    words = " ".join(unicodedata.normalize("NFC", typed).split())
    seen = "".join(letter for letter in words if letter.isprintable() or letter in JOINERS)
    return seen[:LETTERS_MAX].strip(" " + JOINERS)


def sounds(name: str) -> str:
    """What two spellings of one name have in common."""
    folded = unicodedata.normalize("NFKC", name.translate(APOSTROPHES)).casefold()
    folded = unicodedata.normalize("NFKC", folded.replace("\u0131", "i").replace("i\u0307", "i"))
    shown = (letter for letter in folded if unicodedata.category(letter) != "Cf" and letter not in "\ufe0e\ufe0f")
    return " ".join("".join(shown).split())


def called(site: Site, name: str) -> Person | None:
    """The person of this site whom a name means, however it is typed."""
    exact = Person.objects.filter(site=site, name=written(name)).first()
    if exact is not None:
        return exact
    wanted = sounds(written(name))
    if not wanted:
        return None
    return next((one for one in Person.objects.filter(site=site).order_by("pk") if sounds(one.name) == wanted), None)


def spelt(site: Site, name: str, here: str) -> str:
    """How a name that a phone told is written: as that of the phone's person `here`, or of somebody of the site."""
    if here and sounds(name) in ("", sounds(here)):
        return here
    one = called(site, name)
    return one.name if one else name


def called_or_new(site: Site, name: str) -> Person | None:
    """The person of this site whom a name means, taken in if need be; None for a name of nothing."""
    new = written(name)
    if not new:
        return None
    # One letter may become several when it is made great: ß, ligatures.
    initials = "".join(word[0] for word in new.split()).upper()[:4]
    return called(site, new) or Person.objects.get_or_create(site=site, name=new, defaults={"initials": initials})[0]
