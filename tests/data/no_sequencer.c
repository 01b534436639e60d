/* A stand-in for ALSA's sequencer on machines without /dev/snd/seq, to be preloaded: everything
 * succeeds and nothing ever arrives. For hosts that refuse to start without MIDI. */
#include <errno.h>
#include <stdlib.h>

#define YES(name) int name() { return 0; }
#define NONE(name) int name() { return -ENOENT; }

int snd_seq_open(void **seq) { *seq = calloc(1, 65536); return *seq ? 0 : -ENOMEM; }
int snd_seq_client_id() { return 128; }
int snd_seq_event_input() { return -EAGAIN; }
YES(snd_seq_close) YES(snd_seq_set_client_name) YES(snd_seq_create_simple_port)
YES(snd_seq_delete_simple_port) YES(snd_seq_alloc_queue) YES(snd_seq_free_queue)
YES(snd_seq_get_port_info) YES(snd_seq_set_port_info) YES(snd_seq_subscribe_port)
YES(snd_seq_unsubscribe_port) YES(snd_seq_control_queue) YES(snd_seq_drain_output)
YES(snd_seq_event_output) YES(snd_seq_event_output_direct) YES(snd_seq_drop_output)
YES(snd_seq_drop_input) YES(snd_seq_poll_descriptors_count) YES(snd_seq_poll_descriptors)
YES(snd_seq_set_queue_tempo) YES(snd_seq_get_queue_tempo) YES(snd_seq_get_queue_status)
YES(snd_seq_set_queue_timer) YES(snd_seq_remove_events) YES(snd_seq_event_input_pending)
YES(snd_seq_get_any_client_info) YES(snd_seq_get_any_port_info)
NONE(snd_seq_query_next_client) NONE(snd_seq_query_next_port) NONE(snd_seq_query_port_subscribers)
