"""``python -m referee SOURCE RESULT SUMMARY``: the verdict, a line a fault."""

import sys
from pathlib import Path

from referee import judge

FAULTS = judge(*(Path(name) for name in sys.argv[1:4]))
sys.stdout.write("".join(f"{fault}\n" for fault in FAULTS))
sys.exit(3 if FAULTS else 0)
