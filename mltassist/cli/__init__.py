"""The command line: the only place that prints."""

import os

from mltassist.season.threads import ONE_THREAD

os.environ.setdefault(*ONE_THREAD)
