/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A mounting's own log-law line: T = at_24h - loss log10(age / 24 h), by weighted least squares on
 * adjusted session means (methods: relaxation of one mounting). The weights are inverse variances,
 * so the standard error needs no residuals of its own: with three sessions these would be worthless
 * (fact of the trade: noise pooled over screens, else dates are worthless); where the residuals are
 * larger than the weights say, the error grows with them. */
#include "relaxation.h"

#include "population.h"

own_line judge__own_line(const judge *j, const tenter_mounting *m) {
  own_line line = {NAN, NAN, NAN, 0};
  double w = 0, wu = 0, wy = 0;
  size_t first = judge__level_begin(j, m), end = m->first_session + m->session_count;
  for (size_t i = first; i < end; i++) {
    const session_value *v = &j->sessions[i];
    if (isnan(v->u))
      continue;
    line.sessions++;
    w += v->weight;
    wu += v->weight * v->u;
    wy += v->weight * v->adjusted;
  }
  double uu = 0, uy = 0, yy = 0, mean_u = wu / w, mean_y = wy / w;
  for (size_t i = first; i < end; i++) {
    const session_value *v = &j->sessions[i];
    if (isnan(v->u))
      continue;
    double du = v->u - mean_u, dy = v->adjusted - mean_y;
    uu += v->weight * du * du;
    uy += v->weight * du * dy;
    yy += v->weight * dy * dy;
  }
  if (line.sessions < 2 || !(uu > 1e-6 * w))
    return line; /* one age alone has no slope */
  line.loss = -uy / uu;
  line.at_24h = mean_y + line.loss * mean_u;
  if (line.sessions < 3)
    return line;
  double left = fmax(0, yy - uy * uy / uu) / (double)(line.sessions - 2);
  line.loss_se = sqrt(fmax(1, left) / uu);
  return line;
}
