// SPDX-License-Identifier: MIT
// The static program only. Functions that its libraries name but never call here: orderings that
// have no static library in Debian (fits are small and dense), and the stack trace of a fatal log
// message. Each reports failure as its library would.
// NOLINTBEGIN(readability-identifier-naming,bugprone-reserved-identifier): the names are theirs.
extern "C" {
int METIS_NodeND() { return -4; }
int METIS_ComputeVertexSeparator() { return -4; }
int _ULx86_64_init_local() { return -1; }
int _ULx86_64_step() { return -1; }
int _ULx86_64_get_reg() { return -1; }
int _Ux86_64_getcontext() { return -1; }
}
// NOLINTEND(readability-identifier-naming,bugprone-reserved-identifier)
