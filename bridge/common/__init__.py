"""Small parts that every package of the bridge uses: the caution, times as text, progress."""
