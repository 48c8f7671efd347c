#include "provenit/report/base64.h"

#include <openssl/evp.h>

namespace provenit::report {

std::string base64(std::string_view bytes) {
  std::string out(4 * ((bytes.size() + 2) / 3) + 1, '\0');  // with the end that OpenSSL writes
  EVP_EncodeBlock(reinterpret_cast<unsigned char*>(out.data()), reinterpret_cast<const unsigned char*>(bytes.data()),
                  static_cast<int>(bytes.size()));
  out.pop_back();
  return out;
}

}  // namespace provenit::report
