#include "output/drm_handles.h"

#include <drm_fourcc.h>
#include <sys/mman.h>

namespace provenit::show {

Properties properties_of(int fd, std::uint32_t object, std::uint32_t kind) {
  Properties out;
  const DrmProperties all(drmModeObjectGetProperties(fd, object, kind));
  if (!all) return out;
  for (std::uint32_t i = 0; i < all->count_props; ++i) {
    const DrmProperty p(drmModeGetProperty(fd, all->props[i]));
    if (!p) continue;
    Property property{.id = p->prop_id, .value = all->prop_values[i]};
    for (int k = 0; k < p->count_enums; ++k) property.choices[p->enums[k].name] = p->enums[k].value;
    if ((p->flags & DRM_MODE_PROP_RANGE) != 0 && p->count_values == 2) property.highest = p->values[1];
    out[p->name] = std::move(property);
  }
  return out;
}

std::vector<std::uint8_t> blob_of(int fd, std::uint64_t id) {
  if (id == 0) return {};
  const DrmBlob blob(drmModeGetPropertyBlob(fd, static_cast<std::uint32_t>(id)));
  if (!blob) return {};
  const auto* bytes = static_cast<const std::uint8_t*>(blob->data);
  return {bytes, bytes + blob->length};
}

std::unique_ptr<ScanBuffer> ScanBuffer::make(int fd, std::uint32_t width, std::uint32_t height, bool ten_bits) {
  std::unique_ptr<ScanBuffer> buffer(new ScanBuffer(fd));
  if (!buffer->fill(width, height, ten_bits)) return nullptr;
  return buffer;
}

bool ScanBuffer::fill(std::uint32_t width, std::uint32_t height, bool ten_bits) {
  std::uint64_t offset = 0;
  if (drmModeCreateDumbBuffer(fd_, width, height, 32, 0, &handle_, &pitch_, &bytes_) != 0) return false;
  const std::uint32_t handles[4] = {handle_}, pitches[4] = {pitch_}, offsets[4] = {};
  const std::uint32_t format = ten_bits ? DRM_FORMAT_XRGB2101010 : DRM_FORMAT_XRGB8888;
  if (drmModeAddFB2(fd_, width, height, format, handles, pitches, offsets, &id_, 0) != 0) return false;
  if (drmModeMapDumbBuffer(fd_, handle_, &offset) != 0) return false;
  void* memory = mmap(nullptr, bytes_, PROT_READ | PROT_WRITE, MAP_SHARED, fd_, static_cast<off_t>(offset));
  if (memory == MAP_FAILED) return false;
  memory_ = memory;
  return true;
}

ScanBuffer::~ScanBuffer() {
  if (memory_ != nullptr) munmap(memory_, bytes_);
  if (id_ != 0) drmModeRmFB(fd_, id_);
  if (handle_ != 0) drmModeDestroyDumbBuffer(fd_, handle_);
}

std::uint32_t* ScanBuffer::line(int y) const {
  auto* bytes = static_cast<std::uint8_t*>(memory_) + static_cast<std::size_t>(pitch_) * static_cast<std::size_t>(y);
  return static_cast<std::uint32_t*>(static_cast<void*>(bytes));
}

}  // namespace provenit::show
