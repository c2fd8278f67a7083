"""The standing caution: for flight simulation only.

Takes: nothing.  Gives: the short form of the caution, for screens and reports.
"""

from __future__ import annotations

SHORT_CAUTION = "For flight simulation only. Operator's procedures, approved manual, local rules and instructor come first."
