"""Other times, other patients, other tubes: phrases after which nothing is an entry of this case."""

from __future__ import annotations

from voice.english.listed import phrases_of, words_of

_OTHERS = tuple(
    f"{which} {who}"
    for which in ("other", "another", "previous", "next", "different", "second", "third")
    for who in words_of("patient case man woman lady gentleman guy bloke fella lad lass person chap")
)
_RELATIVES = tuple(
    f"{whose} {who}"
    for whose in ("my", "our", "me", "your")
    for who in words_of(
        """
        cousin uncle aunt auntie nephew niece father mother dad mum mom mam da ma brother sister son daughter husband
        wife missus grandad granddad grandfather grandmother gran nan nana granny neighbour neighbor mate's friend's
        boy girl kid kids father's mother's dad's mum's brother's sister's son's daughter's husband's wife's cousin's
        uncle's auntie's gran's nan's knee shoulder shift birthday kitchen house flat
        """
    )
) + tuple(
    f"other {place}"
    for place in words_of(
        "stretcher trolley bed bay room side's fellow cot table theatre ward unit kiddie kid child one's"
    )
)
_CAME = tuple(
    f"{who} {came}"
    for who in ("he", "she", "they", "patient", "who")
    for came in phrases_of(
        "came in | come in with | came with | presented | arrived | turned up | was admitted | were brought\n"
        "was brought"
    )
)

PAST = (
    *_CAME,
    *phrases_of(
        """
    last time | last admission | last week | last year | last night | last month | the other day | years ago
    past week | past month | past year | past few days | few days ago | the past | last summer | last winter
    last spring | last autumn | last fall | last monday | last tuesday | last wednesday | last thursday
    last friday
    last saturday | last sunday | first bleed | previous bleed | last bleed | his last bleed | her last bleed
    when he came | when she came | when they came | when we got | when they brought | when they found | back then
    in the beginning | in the helicopter | on day one | on the ward | at the nursing home | on the plane
    in the field
    hours ago | days ago | weeks ago | months ago | used to | used to be | before she came | before he came
    at the other hospital | at the last hospital | in the ambulance | on arrival | had one of these | at home
    on admission | in the past | year ago | years back | months back | weeks back | days back | past admission
    previous admission | at easter | at christmas | in his previous | in her previous | when i was
    at district hospital | at referring hospital | at the referring hospital | at the district hospital
    other hospitalization | in our time | history of | past history | background of | risk of
    admitted with | admitted after | presented with | brought in with | brought in after | came in with
    came in after | came in vomiting | came in bleeding | on the road | before crew got there
    before we got there | an hour back | at new year | new year's | one we did | fella we did | lad we did
    lady we did | woman we did | man we did | chap we did | patient we did | case we did | one i did | one i had
    one we had | case we had | fella we had | patient we had | saw one of | seen one of | seen a few of
    done one of | did one of | one of these back | back in # | back at ranch | back at base | back at scene
    at scene | on scene | ground crew | in the papers | in papers | in old notes | in his old notes | in old chart
    ambos gave | ambos had | ambos put | medics gave | they had already | on way in | # years of | forty years
    had rash | had a rash | rash from | allergic | allergy | allergies | year # | this time last | once had
    ambulance crew | crew had | crew got | crew found | old man had | tube like this | tube like that | one like this
    before transfer | at handover | when i trained | in training | back home | where i trained | at my old place
    at medical school | in the war | in my day | in my time
    an hour ago | # hours back | # hours ago
    """
    ),
)
"""Said of what was before this case."""

ELSEWHERE = (
    _OTHERS
    + _RELATIVES
    + phrases_of(
        """
        my sats | my heart rate | my pulse | my pressure | my blood pressure | my own | wrong patient
        that's wrong patient | that is wrong patient | old film
        old x ray | old xray | old picture | previous film | previous x ray
        earlier film | yesterday's film | yesterday's x ray | my last patient | last patient | my patient in
        previous patient | other one in | another man | another woman | my last one | my last case | last case
        other patient | next patient | another patient | next door | next bed | the lad in | the lady in | yer man
        bed number # | room number # | room # | cubicle # | side room | side room # | chair # | trolley # | bed #
        bay #
        e t tube | et tube | e t cuff | breathing tube | endotracheal tube | tracheal tube
        tracheal cuff | chest drain | central line | n g | ng tube | nasogastric | feeding tube | urinary catheter
        urine catheter | gastric band | not for him | not for her | not for this | in the corridor | twice a day
        three times a day | once a day | at home | a day now | the fridge | ward # | resus # | theatre # | the one in
        other man | other woman | other lady | other gentleman | gentleman in # | lady in # | man in # | lad in #
        guy in # | woman in # | patient in # | patient of room | patient from | male ward | female ward | trach cuff
        cuff of e t t | cuff of endotracheal | cuff of tracheal | intubation tube is at | cuff of intubation tube
        e t t is # | e t t at # | in your hand | peak pressure | abdominal pressure | bladder pressure
        cuff of intubation | breathing tube's cuff | airway tube | airway tube 's | across way
        across hall | over way | my back | my head | my skin | my lips | my lip | my nose | my mouth | my throat
        my chest | my feet | me feet | my legs | me legs | my knees | me knees | my eyes | me eyes | me back | me head
        my stomach | my belly | me belly | my sugar | my car | my house | side bed | side bed patient | bed beside
        room beside | in room beside | fast track | in casualty | endotracheal cuff | endotracheal one | endotracheal is
        endotracheal 's | tracheal one | cuff pressure | flush bag | pressure bag | every day | each day | per day
        at his house | in his house | at her house | in her house | in the street | at work | e t 's | e t is
        ventilator pressure | vent pressure | airway pressure | airway pressures | driving pressure | plateau pressure
        line pressure | oxygen pressure | cylinder pressure | cabin pressure | tyre pressure | eye pressure
        wall suction | suction wall | suction pressure | on his chart from | kiddie on
        kid on | child on | lady on other | man on other | tube in my | tube feed | tube feeds
        """
    )
)
"""Said of another tube, patient or place."""
