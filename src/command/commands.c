/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The commands, in the order in which the overview shows them. */
#include "command.h"

const command *const command_list[] = {
    &command_check,  &command_review, &command_screen,      &command_lots,     &command_interval,
    &command_charts, &command_meter,  &command_certificate, &command_simulate, NULL};
