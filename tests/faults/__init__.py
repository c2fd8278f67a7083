"""Tests of what must survive: programs killed, disks full, files cut."""
