/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is said of a shop's records as they stand together: a part of the catalogue of words.h. */
#ifndef TENTER_WORDS_SHOP_H
#define TENTER_WORDS_SHOP_H

// clang-format off
#define TENTER_WORDS_SHOP(X) \
  X(SHOP_CLASH, "two rows contradict each other about the {1} ({2} and {3}): taken as unknown") \
  X(SHOP_ORDER, "the {1} ({2} N/cm) is over the {3} ({4} N/cm): one of them must be wrong") \
  X(SHOP_REGISTER_OLD, \
    "the register says stretched on {1}, but a later stretch on {2} is known: the register's date " \
    "was not used") \
  X(SHOP_NO_START, \
    "read on {1} after it was burst or retired: a stretch event is missing, the age of the mesh is " \
    "unknown") \
  /* what a mounting has, as {1} and {3} of the first two */ \
  X(SHOP_MESH, "mesh") \
  X(SHOP_LOT, "lot") \
  X(SHOP_STATION, "station") \
  X(SHOP_PLACE, "place") \
  X(SHOP_SET, "set") \
  X(SHOP_CUSTOMER, "customer") \
  X(SHOP_NUMBER_OF_ORDER, "order") \
  X(SHOP_FRAME, "frame") \
  X(SHOP_NEEDED_ON, "date needed") \
  X(SHOP_TARGET, "target") \
  X(SHOP_MINUS, "minus tolerance") \
  X(SHOP_PLUS, "plus tolerance") \
  X(SHOP_FLOOR, "floor") \
  X(SHOP_COARSE_FLOOR, "coarse floor") \
  X(SHOP_MAXIMUM, "maximum") \
  X(SHOP_WIDTH, "width") \
  X(SHOP_HEIGHT, "height")
// clang-format on

#endif
