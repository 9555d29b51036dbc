// Which font the letters of a picture take, and which signs none has.
#pragma once

#include <string>
#include <string_view>

namespace tidemark {

/// File of the font for a text that VTK's own, which has Latin letters, cannot set; empty where
/// that is enough, or where the system lacks the file (fonts-dejavu-core on Debian).
std::string font_file_for(std::string_view text, bool is_bold);

/// Whether a text shows in full in a picture: in UTF-8, and Latin, Greek, Cyrillic or the like.
bool can_be_drawn(std::string_view text);

/// The signs of a text that do not show, each once; bytes that are no UTF-8 as one "?".
std::string missing_signs(std::string_view text);

} // namespace tidemark
