// How small the letters of a sheet must be for it to stay on one side of paper.
#pragma once

#include "io/setup_sheet.hpp"

namespace tidemark {

/// Size of the letters [pt] at which the sheet, by an estimate of its lines, fits the width of A4
/// and the height of Letter within the margins of sheet_html: 8.2 at most, 5.2 at least. Made for
/// wide letters (DejaVu Sans): others leave room.
double letter_size(const SetupSheet& sheet);

} // namespace tidemark
