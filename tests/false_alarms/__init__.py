"""Long clean flights without any notice, and slips that cause the expected findings only."""
