/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_COMMAND_VERIFY_H
#define TENTER_COMMAND_VERIFY_H

#include "command.h"

/* Checks the certificate among the words of the call, and the other files. Returns the exit status:
 * EXIT_ACTION where anything differs. */
int command_verify(const command_call *call, tenter_error *error);

#endif
