"""Maps: conversion of a sender's fields to signals, with their units and words.

Takes: map files and decoded records.  Gives: frames of changed signals.
"""
