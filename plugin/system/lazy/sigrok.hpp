// SPDX-License-Identifier: GPL-3.0-or-later
// sigrok.hpp: the functions of libsigrok (instruments) that are used, loaded at their first call.
#pragma once
#include <libsigrok/libsigrok.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kSigrok{"libsigrok.so.4", "libsigrok4"};
AIRLATCH_LAZY(kSigrok, sr_config_get)
AIRLATCH_LAZY(kSigrok, sr_config_set)
AIRLATCH_LAZY(kSigrok, sr_dev_inst_channels_get)
AIRLATCH_LAZY(kSigrok, sr_dev_inst_connid_get)
AIRLATCH_LAZY(kSigrok, sr_dev_inst_model_get)
AIRLATCH_LAZY(kSigrok, sr_dev_inst_vendor_get)
AIRLATCH_LAZY(kSigrok, sr_dev_open)
AIRLATCH_LAZY(kSigrok, sr_dev_options)
AIRLATCH_LAZY(kSigrok, sr_driver_init)
AIRLATCH_LAZY(kSigrok, sr_driver_list)
AIRLATCH_LAZY(kSigrok, sr_driver_scan)
AIRLATCH_LAZY(kSigrok, sr_driver_scan_options_list)
AIRLATCH_LAZY(kSigrok, sr_exit)
AIRLATCH_LAZY(kSigrok, sr_init)
AIRLATCH_LAZY(kSigrok, sr_key_info_name_get)
AIRLATCH_LAZY(kSigrok, sr_log_callback_set)
AIRLATCH_LAZY(kSigrok, sr_parse_sizestring)
AIRLATCH_LAZY(kSigrok, sr_session_datafeed_callback_add)
AIRLATCH_LAZY(kSigrok, sr_session_dev_add)
AIRLATCH_LAZY(kSigrok, sr_session_new)
AIRLATCH_LAZY(kSigrok, sr_session_run)
AIRLATCH_LAZY(kSigrok, sr_session_start)

}  // namespace airlatch::lazy
