# SPDX-License-Identifier: MIT
# With the commit in brackets where it was built from a repository.
meltlag --version | sed -E 's/ \([0-9a-f]{7,40}(-dirty)?\)$//'
