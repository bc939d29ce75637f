"""Accounts for every difference between a source and its result.

Both files are read afresh. Notes are compared as sounding values, everything else element by
element; whatever differs must stand in the change log, or follow of itself from what does.
"""

from arrange.audit.auditing import audit, audit_views
from arrange.audit.ledger import Ledger
from arrange.audit.sounding import note_differences
from arrange.audit.views import View

__all__ = ["Ledger", "View", "audit", "audit_views", "note_differences"]
