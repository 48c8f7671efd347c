#pragma once
// Whether an MPEG transport stream ends inside a picture.
// source  Rec. ITU-T H.222.0 | ISO/IEC 13818-1, 2.4.3.2 (packet) and 2.4.3.4 (adaptation field)
#include <string>

#include "reader/big_endian.h"

namespace provenit::programme {

/// Length and continuation of a picture are written nowhere in a transport stream. But it is cut into packets of 188
/// bytes, and the last packet of a picture is filled up with stuffing, unless it happens to fit (1 in 184). Looks at
/// the last packets: true if the end is no whole packet, or the last one of this PID has no stuffing.
[[nodiscard]] bool ts_is_cut(Bytes end_of_file, bool is_whole_packets, int pid);

/// The same of a file.
[[nodiscard]] bool ts_file_is_cut(const std::string& path, int pid);

}  // namespace provenit::programme
