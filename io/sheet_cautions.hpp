// The cautions on the sheet, with the authorities they come from.
#pragma once

#include <string>
#include <vector>

namespace tidemark {

std::vector<std::string> sheet_cautions();

} // namespace tidemark
