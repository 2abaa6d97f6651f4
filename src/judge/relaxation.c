/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A mounting's own line on the clock of the shop's law: T = at_24h - loss u(age), with the log law
 * u = log10(age / 24 h), by weighted least squares on adjusted session means. The weights are
 * inverse variances, so the standard error needs no residuals of its own: with three sessions these
 * would be worthless (fact of the trade: noise pooled over screens, else dates are worthless);
 * where the residuals are larger than the weights say, the error grows with them. */
#include "relaxation.h"

#include "population.h"
#include "tenter/stats/line.h"

own_line judge__own_line(const judge *j, const tenter_mounting *m) {
  tenter_line_sums sums = {0};
  for (size_t i = judge__level_begin(j, m); i < m->first_session + m->session_count; i++) {
    const session_value *value = &j->sessions[i];
    if (judge__is_fitted(value))
      tenter_line_sums_add(&sums, tenter_clock_u(j->population->clock, value->u), value->adjusted,
                           value->weight);
  }
  own_line line = {NAN, NAN, NAN, sums.count};
  tenter_line_fit fit;
  if (!tenter_line_solve(&sums, NAN, &fit))
    return line;
  line.at_24h = fit.level;
  line.loss = -fit.slope;
  line.loss_se = fit.slope_se / fmin(1, fit.sigma); /* never below what the weights say */
  return line;
}
