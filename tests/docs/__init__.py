"""Tests of the written pages. A package, so that its modules may be named like those of other folders."""
