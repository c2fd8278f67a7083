"""The disclaimer: for flight simulation only.

Takes: nothing.  Gives: the short disclaimer, for screens and reports.
"""

from __future__ import annotations

SHORT_DISCLAIMER = "For flight simulation only. Operator's procedures, approved manual, local rules and instructor come first."
