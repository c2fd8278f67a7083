"""Small parts that every package of the bridge uses: the caution, times and other texts, progress."""
