// sigrok.hpp: what is used of libsigrok (instruments), loaded when it is first called.
#pragma once
#include <libsigrok/libsigrok.h>

#include "plugin/sources/late/library.hpp"

namespace airlatch {

inline constexpr LateLibrary kSigrok{"libsigrok.so.4", "libsigrok4"};
AIRLATCH_LATE(kSigrok, sr_config_get)
AIRLATCH_LATE(kSigrok, sr_config_set)
AIRLATCH_LATE(kSigrok, sr_dev_inst_channels_get)
AIRLATCH_LATE(kSigrok, sr_dev_inst_connid_get)
AIRLATCH_LATE(kSigrok, sr_dev_inst_model_get)
AIRLATCH_LATE(kSigrok, sr_dev_inst_vendor_get)
AIRLATCH_LATE(kSigrok, sr_dev_open)
AIRLATCH_LATE(kSigrok, sr_driver_init)
AIRLATCH_LATE(kSigrok, sr_driver_list)
AIRLATCH_LATE(kSigrok, sr_driver_scan)
AIRLATCH_LATE(kSigrok, sr_driver_scan_options_list)
AIRLATCH_LATE(kSigrok, sr_exit)
AIRLATCH_LATE(kSigrok, sr_init)
AIRLATCH_LATE(kSigrok, sr_key_info_name_get)
AIRLATCH_LATE(kSigrok, sr_log_callback_set)
AIRLATCH_LATE(kSigrok, sr_parse_sizestring)
AIRLATCH_LATE(kSigrok, sr_session_datafeed_callback_add)
AIRLATCH_LATE(kSigrok, sr_session_dev_add)
AIRLATCH_LATE(kSigrok, sr_session_new)
AIRLATCH_LATE(kSigrok, sr_session_run)
AIRLATCH_LATE(kSigrok, sr_session_start)

}  // namespace airlatch
