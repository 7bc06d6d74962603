from __future__ import annotations

from traveller.ledger.models.account import OWED, PHYSICAL, Account, Condition, Posting
from traveller.ledger.models.lot import Hold, Link, Lot

__all__ = ["OWED", "PHYSICAL", "Account", "Condition", "Hold", "Link", "Lot", "Posting"]
