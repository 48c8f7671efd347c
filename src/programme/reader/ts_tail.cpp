#include "reader/ts_tail.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <vector>

namespace provenit::programme {
namespace {

constexpr std::size_t kPacket = 188;
constexpr std::uint8_t kSync = 0x47;

// Bytes of an adaptation field that mean something: flags, clock references, splice countdown.
std::size_t needed(std::uint8_t flags) {
  std::size_t bytes = 1;
  if ((flags & 0x10) != 0) bytes += 6;
  if ((flags & 0x08) != 0) bytes += 6;
  if ((flags & 0x04) != 0) bytes += 1;
  return bytes;
}

bool is_stuffed(Bytes packet) {
  if ((packet[3] & 0x20) == 0) return false;
  const std::size_t length = packet[4];
  return length == 0 || length > needed(packet[5]);
}

}  // namespace

bool ts_is_cut(Bytes end_of_file, bool is_whole_packets, int pid) {
  if (!is_whole_packets) return true;
  const std::size_t count = end_of_file.size() / kPacket;
  for (std::size_t i = count; i > 0; --i) {
    const Bytes packet = end_of_file.subspan(end_of_file.size() - (count - i + 1) * kPacket, kPacket);
    if (packet[0] != kSync) return false;  // another kind of packet: nothing can be said
    if (((packet[1] & 0x1f) << 8 | packet[2]) != pid) continue;
    if ((packet[3] & 0x10) == 0) continue;  // no payload
    return !is_stuffed(packet);
  }
  return false;
}

bool ts_file_is_cut(const std::string& path, int pid) {
  std::error_code error;
  const std::uintmax_t size = std::filesystem::file_size(path, error);
  std::ifstream file(path, std::ios::binary);
  if (error || !file || size < kPacket || file.peek() != kSync) return false;  // other packet sizes: not judged
  const std::uintmax_t rest = size % kPacket;
  const std::uintmax_t length = std::min<std::uintmax_t>(size - rest, 4096 * kPacket);
  std::vector<std::uint8_t> end(static_cast<std::size_t>(length));
  file.seekg(static_cast<std::streamoff>(size - rest - length));
  file.read(reinterpret_cast<char*>(end.data()), static_cast<std::streamsize>(end.size()));
  return file && ts_is_cut(end, rest == 0, pid);
}

}  // namespace provenit::programme
