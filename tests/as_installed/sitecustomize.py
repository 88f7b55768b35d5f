"""Read by each command that a test starts: nothing is there that a user's environment has not.

pandas comes with a reference library of the tests. sqlite-utils reads it where it finds it, a third of a second a
start.
"""

import sys

sys.modules["pandas"] = None  # type: ignore[assignment]
