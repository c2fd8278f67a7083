"""Small parts that every package of the bridge uses: the disclaimer, times and other texts, progress."""
