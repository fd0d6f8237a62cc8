# SPDX-License-Identifier: MIT
meltlag --version
