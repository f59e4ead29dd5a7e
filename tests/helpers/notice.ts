import type { Notice } from '../../shared/schema/notice.ts';

/** A notice of the urgent low-point alarm at ten past four, good for two hours. */
export const notice = (over: Partial<Notice> = {}): Notice => ({
  noticeId: '0b1c6c9e-6d8a-4a6b-9a43-0d4f8f1f2a10',
  eventId: 'low-point-7',
  kind: 'alarm',
  alarmId: 'low-point',
  occurrence: 7,
  priority: 'high',
  title: 'The bank will fall below its floor',
  text: 'Below 35 % at about 05:40, 29 % at the low point.',
  helps: ['Raise the setpoint by 2 degrees: the low point is at 36 %', 'Switch the mini-split off from 04:30 to 06:00: 38 %'],
  rigName: 'Heron',
  issuedMs: NOTICE_MS,
  issuedText: '04:10',
  expiresMs: NOTICE_MS + 7_200_000,
  canAcknowledge: true,
  ...over,
});

/** When that notice is issued, epoch ms. */
export const NOTICE_MS = 1_795_752_600_000;
