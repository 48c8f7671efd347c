#pragma once
// Owners of what libdrm gives, and the properties of its objects by name.
#include <unistd.h>
#include <xf86drm.h>
#include <xf86drmMode.h>

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <vector>

namespace provenit::show {

template <auto Free>
struct Freed {
  template <class T>
  void operator()(T* p) const {
    Free(p);
  }
};
using DrmResources = std::unique_ptr<drmModeRes, Freed<drmModeFreeResources>>;
using DrmConnector = std::unique_ptr<drmModeConnector, Freed<drmModeFreeConnector>>;
using DrmEncoder = std::unique_ptr<drmModeEncoder, Freed<drmModeFreeEncoder>>;
using DrmPlanes = std::unique_ptr<drmModePlaneRes, Freed<drmModeFreePlaneResources>>;
using DrmPlane = std::unique_ptr<drmModePlane, Freed<drmModeFreePlane>>;
using DrmProperties = std::unique_ptr<drmModeObjectProperties, Freed<drmModeFreeObjectProperties>>;
using DrmProperty = std::unique_ptr<drmModePropertyRes, Freed<drmModeFreeProperty>>;
using DrmBlob = std::unique_ptr<drmModePropertyBlobRes, Freed<drmModeFreePropertyBlob>>;
using DrmRequest = std::unique_ptr<drmModeAtomicReq, Freed<drmModeAtomicFree>>;

class File {
 public:
  explicit File(int fd) : fd_(fd) {}
  ~File() {
    if (fd_ >= 0) ::close(fd_);
  }
  File(const File&) = delete;
  File& operator=(const File&) = delete;
  [[nodiscard]] int get() const { return fd_; }

 private:
  int fd_;
};

struct Property {
  std::uint32_t id = 0;
  std::uint64_t value = 0;
  std::map<std::string, std::uint64_t> choices;  ///< of an enumeration
  std::uint64_t highest = 0;                     ///< of a range
};
using Properties = std::map<std::string, Property>;

/// Empty if the object has none.
[[nodiscard]] Properties properties_of(int fd, std::uint32_t object, std::uint32_t kind);
/// The bytes of a blob; empty if there is none.
[[nodiscard]] std::vector<std::uint8_t> blob_of(int fd, std::uint64_t id);

/// Memory that the card scans out, one word per pixel.
class ScanBuffer {
 public:
  /// nullptr, with errno set, if the card refuses.
  static std::unique_ptr<ScanBuffer> make(int fd, std::uint32_t width, std::uint32_t height, bool ten_bits);
  ~ScanBuffer();
  ScanBuffer(const ScanBuffer&) = delete;
  ScanBuffer& operator=(const ScanBuffer&) = delete;
  [[nodiscard]] std::uint32_t id() const { return id_; }
  [[nodiscard]] std::uint32_t* line(int y) const;

 private:
  explicit ScanBuffer(int fd) : fd_(fd) {}
  bool fill(std::uint32_t width, std::uint32_t height, bool ten_bits);
  int fd_;
  std::uint32_t handle_ = 0, pitch_ = 0, id_ = 0;
  std::uint64_t bytes_ = 0;
  void* memory_ = nullptr;
};

}  // namespace provenit::show
