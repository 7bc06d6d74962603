"""People as they are called: letters of many scripts, marks, quotes, emoji, long ones."""

from __future__ import annotations

import unicodedata

NAMES = [
    "张伟",
    "Ngô Thị Hằng",
    "محمد",
    "علی\u200cرضا",
    "Łukasz",
    "O'Brien",
    "José",
    'Zoë "Zed" <b>Ö</b>',
    "Ann; Bo, Cy=Di & Eve\\r",
    "100 % Émile + %41",
    "👩\u200d🏭 Ines 🏮",
    "q\u0323\u0307 Stacked",
    "शिवाजी",
    "x" * 80,
    "张" * 80,
    "🏮" * 80,
]
# Who is one person, by the first spelling.
SAME = [
    ("José", unicodedata.normalize("NFD", "José"), "JOSÉ", "josé", "  José "),
    ("Işık", "IŞIK", "ışık", "işik", "İŞIK"),
    ("Weiß", "WEISS", "weiss", "WEIẞ"),
    ("Ann Lee", "Ａｎｎ　Ｌｅｅ", "ANN  LEE"),
    ("O'Brien", "O’Brien", "o\u02bcbrien"),
    ("ﬁsher", "FISHER"),
    ("علی\u200cرضا", "علیرضا"),
    ("Σίσυφος", "ΣΊΣΥΦΟΣ"),
]
OTHERS = [("José", "Jose"), ("Łukasz", "Lukasz"), ("张伟", "张威"), ("Ann", "Anna"), ("Ann Lee", "Annlee")]
