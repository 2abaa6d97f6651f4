/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Standard uncertainties: the meter's calibration and
 * resolution, the session's own deviation, the readings' noise, the missing points. */
#include "judge.h"

double judge__calibration(const judge *j, uint16_t meter, bool assume, bool *assumed) {
  double known = meter == TENTER_NO_NAME16 ? NAN : j->meters[meter].calibration;
  if (!isnan(known))
    return known;
  if (!assume)
    return 0;
  if (assumed)
    *assumed = true;
  return TENTER_ASSUMED_EXPANDED / TENTER_ASSUMED_COVERAGE;
}

static double resolution_variance(const judge *j, uint16_t meter) {
  double step = meter == TENTER_NO_NAME16 ? 0 : j->meters[meter].resolution;
  return step * step / 12; /* a value anywhere within the step is equally likely */
}

double judge__meter_variance(const judge *j, uint16_t meter, bool assume, bool *assumed) {
  /* What differs between people is in what differs from session to session; only what a study finds
   * beyond that adds to it. */
  double people = meter == TENTER_NO_NAME16 ? 0 : j->meters[meter].reproducibility;
  return squared(judge__calibration(j, meter, assume, assumed)) + resolution_variance(j, meter) +
         fmax(0, squared(people) - squared(j->noise.session));
}

double judge__session_uncertainty(const judge *j, size_t session, bool assume, bool *assumed) {
  const tenter_session *s = &j->shop->sessions[session];
  return sqrt(judge__meter_variance(j, s->meter, assume, assumed) + squared(j->noise.session) +
              j->sessions[session].variance);
}

double judge__reading_uncertainty(const judge *j, size_t session, size_t reading) {
  const tenter_session *s = &j->shop->sessions[session];
  uint32_t slot = mesh_slot(j, mounting_of(j, s)->is.mesh);
  uint16_t meter = j->readings->meter[reading];
  return sqrt(judge__meter_variance(j, meter, false, NULL) + j->sessions[session].shift_variance +
              squared(judge__reading_sd(j, slot, j->readings->tension[reading])));
}
