# Writes a C++ source with a digest of what the program is made from.
#   cmake -DOUTPUT=FILE -DROOT=FOLDER -DSOURCES="file;file" -DSETTINGS=TEXT -P program_digest.cmake
set(text "${SETTINGS}\n")
foreach(file IN LISTS SOURCES)
  file(SHA256 "${file}" digest)
  file(RELATIVE_PATH name "${ROOT}" "${file}")
  string(APPEND text "${name} ${digest}\n")
endforeach()
string(SHA256 digest "${text}")
string(SUBSTRING "${digest}" 0 16 digest)
file(WRITE "${OUTPUT}" "// Made by io/program_digest.cmake from mesh, solver and io.
#include \"io/run_record.hpp\"

namespace tidemark {

std::string program_digest() {
  return \"${digest}\";
}

} // namespace tidemark
")
