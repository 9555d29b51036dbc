// Ctrl-C and the request to end, taken at the next step.
#pragma once

namespace tidemark {

/// From now on the first SIGINT or SIGTERM only sets a flag; a second one ends the program at once.
void catch_interrupts();

/// Whether such a signal has come.
bool interrupted();

} // namespace tidemark
