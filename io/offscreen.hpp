// OpenGL on a machine without a screen.
#pragma once

#include <string>

namespace tidemark {

/// Makes a context of OpenGL 3.2 without window or screen and makes it current in this thread,
/// where it stays until the process ends. Returns why that cannot be, empty if it is done.
std::string open_offscreen();

} // namespace tidemark
